"""Take messages, settle none and wait to be killed: ``taker.py FOLDER COUNT``."""

import sys
import time
from pathlib import Path

from fleet.embedded.spool import Spool

spool = Spool(Path(sys.argv[1]) / "messages")
taken = [spool.take("work") for _ in range(int(sys.argv[2]))]
sys.stdout.write(f"{sum(message is not None for message in taken)}\n")
sys.stdout.flush()
time.sleep(60)
