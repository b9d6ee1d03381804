#!/bin/sh
# Finds a Chromium for the browser tests: the one in LOWSIDE_CHROMIUM, one on the PATH, or Debian's
# package. Stops with a sentence when there is none.
set -eu

if [ -n "${LOWSIDE_CHROMIUM:-}" ]; then
    if [ -x "$LOWSIDE_CHROMIUM" ]; then exit 0; fi
    echo "LOWSIDE_CHROMIUM is $LOWSIDE_CHROMIUM, which is not a program." >&2
    exit 1
fi
if command -v chromium >/dev/null 2>&1; then exit 0; fi

refuse() {
    echo "The browser tests need Chromium, and $1." >&2
    echo "Install it, or set LOWSIDE_CHROMIUM to the program's path." >&2
    exit 1
}

command -v apt-get >/dev/null 2>&1 || refuse "there is none here and no apt-get to install it with"
as_root=""
if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null 2>&1 || refuse "installing it takes root or sudo"
    as_root="sudo"
fi
echo "Installing Chromium for the browser tests."
$as_root apt-get update -qq || refuse "apt-get update failed"
$as_root env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core >/dev/null \
    || refuse "apt-get could not install it"
command -v chromium >/dev/null 2>&1 || refuse "the package brought no chromium program"
