#!/bin/sh
# Sees to it that the tests find PostgreSQL's programs, and setpriv to start them with. What is
# missing comes from Debian's packages. Stops with a sentence when it is not to be had.
#
# The tests make a database of their own in a temporary folder. The package may make one too, as it
# does for everybody; the tests do not touch that one.
set -eu

have() { command -v "$1" >/dev/null 2>&1; }
there() {
    for program in /usr/lib/postgresql/*/bin/initdb; do
        if [ -x "$program" ] && have setpriv; then return 0; fi
    done
    return 1
}

refuse() {
    echo "The store's tests miss PostgreSQL, and $1." >&2
    echo "Install it: apt-get update && apt-get install postgresql util-linux" >&2
    exit 1
}

if there; then exit 0; fi
have apt-get || refuse "there is no apt-get here to install it with"
as_root=""
if [ "$(id -u)" -ne 0 ]; then
    have sudo || refuse "installing it takes root or sudo"
    as_root="sudo"
fi
echo "Installing for the store's tests: postgresql"
$as_root apt-get update -qq || refuse "apt-get update failed"
$as_root env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends postgresql util-linux >/dev/null \
    || refuse "apt-get could not install it"
there || refuse "the package brought no program for it"
