#!/bin/sh
# Sees to it that the browser tests find the engines they run in: all three, or those in ENGINES.
# What is missing comes from Debian's packages. Stops with a sentence when one is not to be had.
set -eu

asked=$(echo "${ENGINES:-}" | tr ',' ' ')
have() { command -v "$1" >/dev/null 2>&1; }

# A program named by a variable must be one.
named() {
    if [ -n "$2" ] && [ ! -x "$2" ]; then
        echo "$1 is $2, which is not a program." >&2
        exit 1
    fi
}
named LOWSIDE_CHROMIUM "${LOWSIDE_CHROMIUM:-}"
named LOWSIDE_FIREFOX "${LOWSIDE_FIREFOX:-}"

missing() {
    engines=""
    packages=""
    for engine in ${asked:-chromium firefox webkit}; do
        case $engine in
            chromium)
                if [ -n "${LOWSIDE_CHROMIUM:-}" ] || have chromium-headless-shell; then continue; fi
                if have chromium && [ -n "$shell_refused" ]; then continue; fi
                packages="$packages chromium-headless-shell fonts-dejavu-core" ;;
            firefox)
                if [ -n "${LOWSIDE_FIREFOX:-}" ] || have firefox-esr || have firefox; then continue; fi
                packages="$packages firefox-esr" ;;
            webkit)
                if have WebKitWebDriver && have Xvfb; then continue; fi
                packages="$packages webkit2gtk-driver xvfb" ;;
            *)
                echo "ENGINES: there is no $engine; there are chromium, firefox and webkit." >&2
                exit 1 ;;
        esac
        engines="$engines $engine"
    done
}

refuse() {
    echo "The browser tests miss$engines, and $1." >&2
    echo "Install it: apt-get update && apt-get install$packages" >&2
    echo "Or test without it, as in: make test ENGINES=chromium" >&2
    exit 1
}

# Chromium's headless shell is the same engine in a third of the time. Where only it is missing and
# cannot be had, the whole browser serves.
shell_refused=""
missing
if [ "$engines" = " chromium" ] && have chromium; then
    { have apt-get && [ "$(id -u)" -eq 0 ] && apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends chromium-headless-shell; } >/dev/null 2>&1 \
        || shell_refused="yes"
    missing
fi
if [ -z "$engines" ]; then exit 0; fi
have apt-get || refuse "there is no apt-get here to install it with"
as_root=""
if [ "$(id -u)" -ne 0 ]; then
    have sudo || refuse "installing it takes root or sudo"
    as_root="sudo"
fi
echo "Installing for the browser tests:$packages"
$as_root apt-get update -qq || refuse "apt-get update failed"
# shellcheck disable=SC2086 # one word a package
$as_root env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends $packages >/dev/null \
    || refuse "apt-get could not install it"
missing
if [ -n "$engines" ]; then refuse "the packages brought no program for it"; fi
