#!/bin/sh
# Sees to it that the tests find nginx, which reads docs/compose/nginx.conf. Where it is missing,
# the program alone is taken out of Debian's package, into .venv: nothing is installed, and no
# service starts. Stops with a sentence when it is not to be had.
set -eu

kept=.venv/nginx
there() {
    for program in "$(command -v nginx || true)" /usr/sbin/nginx "$kept/usr/sbin/nginx"; do
        if [ -x "$program" ] && "$program" -v 2>/dev/null; then return 0; fi
    done
    return 1
}

refuse() {
    echo "The tests of docs/compose miss nginx, and $1." >&2
    echo "Install it: apt-get update && apt-get install nginx-light" >&2
    exit 1
}

if there; then exit 0; fi
have() { command -v "$1" >/dev/null 2>&1; }
if ! have apt-get || ! have dpkg-deb; then refuse "there is no apt-get here to get it with"; fi
packages=$(mktemp -d)
trap 'rm -rf "$packages"' EXIT
chmod 755 "$packages"
fetch() { (cd "$packages" && apt-get download -qq nginx >/dev/null 2>&1); }
echo "Taking nginx from its package for the tests"
if ! fetch; then
    as_root=""
    if [ "$(id -u)" -ne 0 ]; then
        have sudo || refuse "the list of packages takes root or sudo"
        as_root="sudo"
    fi
    $as_root apt-get update -qq || refuse "apt-get update failed"
    fetch || refuse "apt-get could not get it"
fi
rm -rf "$kept"
dpkg-deb -x "$packages"/nginx_*.deb "$kept"
there || refuse "the package brought no program that runs here"
