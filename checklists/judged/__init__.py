"""What a tablet judged by itself, judged again on arrival: where the two differ, the programme has a defect."""
