#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Builds the core as one WebAssembly file: all of src but what needs a system (the command line,
# writing files, PNG and EXR), with GSL and cJSON from their Debian source packages.  sh wasm.sh OUT
set -eu
OUT=$1 JOBS=${JOBS:-2}
mkdir -p "$OUT"
OUT=$(cd "$OUT" && pwd)
here=$(dirname "$0")
sh "$here/sources.sh" "$OUT/sources"
CC=$(command -v clang-19 || command -v clang-16 || command -v clang-15 || command -v clang-14 || command -v clang)
VERSION=$("$CC" -dumpversion | cut -d. -f1)
AR=$(command -v "llvm-ar-$VERSION" || command -v llvm-ar)
RANLIB=$(command -v "llvm-ranlib-$VERSION" || command -v llvm-ranlib)
GSL_SRC=$(ls -d "$OUT"/sources/gsl-*/ | head -1)
CJSON=$(ls -d "$OUT"/sources/cjson-*/ | head -1)
# The headers of wasi-libc alone: without this clang also looks where the machine's own C headers are.
WASI="-nostdlibinc -isystem $(dirname "$(dpkg -L wasi-libc | grep '/stdlib.h$' | head -1)")"
# No thread_local: one thread a Worker, and with bulk memory clang would make it real.
TARGET="--target=wasm32-wasi $WASI -msimd128 -mbulk-memory -mnontrapping-fptoint -msign-ext -D_Thread_local="

# 1. GSL: configured once; the linker takes what is used of the folders that the core draws on.
GSL=$OUT/gsl
if [ ! -e "$GSL/libgsl.a" ]; then
    rm -rf "$GSL" && cp -r "$GSL_SRC" "$GSL"
    (cd "$GSL" && ./configure --host=wasm32-unknown-none --disable-shared CC="$CC --target=wasm32-wasi" \
        AR="$AR" RANLIB="$RANLIB" ac_cv_c_extended_fp=no && make -C gsl) >"$OUT/gsl.log" 2>&1 ||
        { tail "$OUT/gsl.log" >&2; exit 1; }
    folders="blas block cblas complex eigen err fit integration linalg matrix min multifit_nlinear multifit multimin permutation poly qrng roots sort specfunc statistics sys utils vector"
    mkdir -p "$GSL/obj"
    for d in $folders; do
        # its sources as its Makefile.am lists them, continued lines joined
        for f in $(sed -e ':a' -e '/\\$/{N;s/\\\n/ /;ba' -e '}' "$GSL/$d/Makefile.am" | sed -n 's/^libgsl.*_la_SOURCES *=//p'); do
            case $f in *.c) echo "$d $f" ;; esac
        done
    done | sort -u >"$GSL/list"
    export TARGET CC
    (cd "$GSL" && xargs -P "$JOBS" -L 1 sh -c 'cd "$0" && $CC $TARGET -DHAVE_CONFIG_H -DHAVE_INLINE -Os -w -I. -I.. -c "$1" -o "../obj/$0-${1%.c}.o"' <list)
    $AR crs "$GSL/libgsl.new" "$GSL"/obj/*.o && mv "$GSL/libgsl.new" "$GSL/libgsl.a"
fi

# 2. The core: all that needs no system. Light and optics are where the time goes; the rest is built small. Objects that are
# newer than every source stay.
mkdir -p "$OUT/inc/cjson" "$OUT/obj"
cp "$CJSON/cJSON.h" "$OUT/inc/cjson/"
sh .ci/embed-data data/fluids/*.json data/*.json >"$OUT/data_files.new"
cmp -s "$OUT/data_files.new" "$OUT/data_files.c" || cp "$OUT/data_files.new" "$OUT/data_files.c"
COMMON="$TARGET -std=c11 -D_POSIX_C_SOURCE=200809L -DVS_VERSION=\"page\" -Iinclude -Isrc -I$OUT/inc -I$GSL -ffp-contract=off -Wall"
LANES="-O3 -fno-math-errno -fno-trapping-math -fopenmp-simd -DVS_LANES_SIMD"
newest=$(find src include -name '*.h' -newer "$OUT/obj/.headers" 2>/dev/null | head -1)
[ -e "$OUT/obj/.headers" ] && [ -z "$newest" ] || { rm -f "$OUT"/obj/*.o; touch "$OUT/obj/.headers"; }
: >"$OUT/jobs"
: >"$OUT/objects"
for f in src/*/*.c src/*/*/*.c "$OUT/data_files.c" "$CJSON/cJSON.c"; do
    case $f in
    src/cli/* | src/report/forms/file_out.c | src/picture/png.c | src/picture/apng.c | src/picture/exr.c | src/picture/pair/*) continue ;;
    */airlight_fast_*.c) extra=$LANES ;;
    src/light/* | src/optics/* | src/base/* | src/picture/*) extra=-O3 ;;
    *) extra=-Oz ;;
    esac
    if grep -q LANES_CLONES "$f"; then extra=$LANES; fi # as VECTOR_SRC
    o=$OUT/obj/$(printf %s "${f#"$OUT"/}" | tr / -).o
    echo "$o" >>"$OUT/objects"
    [ -e "$o" ] && [ "$o" -nt "$f" ] || echo "$extra -c $f -o $o" >>"$OUT/jobs"
done
export COMMON CC
xargs -r -P "$JOBS" -L 1 sh -c '$CC $COMMON "$@"' cc <"$OUT/jobs"

# 3. One file: a reactor (no main), its stack first so that running over it traps instead of writing.
# No -O here: with it clang runs wasm-opt by itself wherever one is on the PATH.
xargs "$CC" --target=wasm32-wasi -mexec-model=reactor "$GSL/libgsl.a" \
    -Wl,--export=malloc -Wl,--export=free -Wl,-z,stack-size=1048576 -Wl,--stack-first -Wl,--initial-memory=33554432 -Wl,-O2 \
    -Wl,--strip-all -o "$OUT/core.new" <"$OUT/objects"
mv "$OUT/core.new" "$OUT/core.wasm"
ls -l "$OUT/core.wasm" | awk '{print "core.wasm: " $5 " bytes"}'
