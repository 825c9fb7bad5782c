#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Fetches source packages from the distribution, GSL's and cJSON's where none is named, into a folder of
# our own: the system's lists stay as they are, and no host is named here.  sh sources.sh FOLDER [PACKAGE...]
set -eu
mkdir -p "$1"
T=$(cd "$1" && pwd)
shift
packages=${*:-gsl cjson}
missing=""
for p in $packages; do
    ls -d "$T/$p"-*/ >/dev/null 2>&1 || missing="$missing $p"
done
[ -n "$missing" ] || exit 0
mkdir -p "$T/lists/partial" "$T/cache/archives/partial"
if [ -e /etc/apt/sources.list.d/debian.sources ]; then
    sed 's/^Types:.*/Types: deb-src/' /etc/apt/sources.list.d/debian.sources > "$T/s.sources"
    list="$T/s.sources"
else
    sed -n 's/^deb /deb-src /p' /etc/apt/sources.list > "$T/s.list"
    list="$T/s.list"
fi
set -- -o "Dir::Etc::SourceList=$list" -o Dir::Etc::SourceParts=/nonexistent \
    -o "Dir::State::Lists=$T/lists" -o "Dir::Cache=$T/cache"
# apt drops its rights where the folder is not open to it: as root, keep them.
[ "$(id -u)" -ne 0 ] || set -- "$@" -o APT::Sandbox::User=root
apt-get -qq "$@" update
cd "$T"
# shellcheck disable=SC2086  # a list of words
apt-get -qq "$@" source $missing > "$T/source.log" 2>&1 || { cat "$T/source.log" >&2; exit 1; }
