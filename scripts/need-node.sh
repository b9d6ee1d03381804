#!/bin/sh
# Stops with a sentence unless Node can run the tests of the phone's JavaScript.
set -eu

if ! command -v node >/dev/null 2>&1; then
    echo "The tests need Node 20 or newer on the PATH, and there is none. Lowside itself does not." >&2
    exit 1
fi
if ! node -e 'process.exit(Number(process.versions.node.split(".")[0]) < 20 ? 1 : 0)'; then
    echo "The tests need Node 20 or newer; this is $(node --version). Lowside itself does not." >&2
    exit 1
fi
