#!/bin/sh
# Stops with a sentence unless the named Python can make a virtual environment for Lowside.
set -eu
python=${1:-python3}

if ! command -v "$python" >/dev/null 2>&1; then
    echo "Lowside needs Python 3.11 or newer, and there is no $python here." >&2
    echo "Install Python, or name it: make run PYTHON=/path/to/python3" >&2
    exit 1
fi
if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
    echo "Lowside needs Python 3.11 or newer; $python is $("$python" -V 2>&1)." >&2
    echo "Install a newer one, or name it: make run PYTHON=/path/to/python3" >&2
    exit 1
fi
if ! "$python" -c 'import ensurepip, venv' >/dev/null 2>&1; then
    echo "$python cannot make a virtual environment: its venv module is not installed." >&2
    echo "On Debian and Ubuntu: apt-get install python3-venv" >&2
    exit 1
fi
