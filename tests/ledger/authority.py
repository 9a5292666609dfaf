"""A time stamping authority of our own, made with `openssl`: a root, a certificate for stamping only, and answers."""

from __future__ import annotations

import subprocess
from pathlib import Path

_CONFIG = """
[req]
distinguished_name = name
prompt = no
[name]
CN = %(name)s
[root]
basicConstraints = critical, CA:true
keyUsage = critical, keyCertSign
subjectKeyIdentifier = hash
[stamping]
basicConstraints = critical, CA:false
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
subjectKeyIdentifier = hash
authorityKeyIdentifier = keyid
[tsa]
default_tsa = ours
[ours]
serial = %(folder)s/serial
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
accuracy = secs:1
ess_cert_id_alg = sha256
"""


class Authority:
    """Answers requests in a folder of its own."""

    def __init__(self, folder: Path, name: str = "Alder Reach test authority") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        (folder / "config").write_text(_CONFIG % {"folder": folder, "name": name})
        (folder / "serial").write_text("01\n")
        self._openssl(
            *("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "30"),
            *("-keyout", "root.key", "-out", "root.pem", "-config", "config", "-extensions", "root"),
        )
        self._openssl(
            *("req", "-newkey", "rsa:2048", "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", "-config", "config"),
            *("-subj", f"/CN={name} stamps"),
        )
        self._openssl(
            *("x509", "-req", "-in", "tsa.csr", "-CA", "root.pem", "-CAkey", "root.key", "-CAcreateserial"),
            *("-days", "30", "-out", "tsa.pem", "-extfile", "config", "-extensions", "stamping"),
        )

    @property
    def roots(self) -> bytes:
        return (self.folder / "root.pem").read_bytes()

    def answer(self, request: bytes) -> bytes:
        """What `openssl ts -reply` says to a request."""
        (self.folder / "request.tsq").write_bytes(request)
        self._openssl(
            *("ts", "-reply", "-config", "config", "-section", "ours", "-queryfile", "request.tsq"),
            *("-signer", "tsa.pem", "-inkey", "tsa.key", "-out", "answer.tsr"),
        )
        return (self.folder / "answer.tsr").read_bytes()

    def agrees(self, answer: bytes, data: bytes) -> bool:
        """What `openssl ts -verify` says to an answer."""
        (self.folder / "seen.tsr").write_bytes(answer)
        (self.folder / "seen.data").write_bytes(data)
        command = ["openssl", "ts", "-verify", "-data", "seen.data", "-in", "seen.tsr", "-CAfile", "root.pem"]
        done = subprocess.run(command, cwd=self.folder, capture_output=True, check=False, timeout=30)
        return done.returncode == 0

    def _openssl(self, *arguments: str) -> None:
        done = subprocess.run(["openssl", *arguments], cwd=self.folder, capture_output=True, check=False, timeout=60)
        assert done.returncode == 0, done.stderr.decode()
