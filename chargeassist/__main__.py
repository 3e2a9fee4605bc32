"""``python -m chargeassist``."""

import sys

from chargeassist.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
