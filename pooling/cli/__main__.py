"""`python -m pooling.cli`, the same as `commonwear`."""

import sys

from pooling.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
