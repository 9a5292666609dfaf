"""The ledger: rows as leaves of a Merkle tree, sealed under signed checkpoints that leave the machine."""
