"""`python -m fillwright.cli`."""

from fillwright.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
