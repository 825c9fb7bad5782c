# SPDX-License-Identifier: GPL-3.0-or-later
# veilstop: `make` builds build/veilstop, `make demo` runs the main job, `make test` checks it all,
# `make help` lists the rest. Each VARIANT has its own build folder.
VARIANT ?= release
BUILD   ?= build
OUT     := $(BUILD)/$(VARIANT)
CORES   := $(shell getconf _NPROCESSORS_ONLN)
ALL_CORES = $(if $(findstring jobserver,$(MAKEFLAGS)),,-j$(CORES)) # where the user has not said how many
ifeq ($(origin CC),default)
CC := gcc
endif
Q := $(if $(V),,@) # V=1 shows the commands
VERSION := 0.1.0

PKGS      := gsl libcjson libpng
# Of OpenEXR the C core alone, which has no pkg-config file of its own.
TEST_PKGS := cmocka libxml-2.0 zlib
# Second parties of tests/outside alone: what they compute is held against what the program does.
OUTSIDE_PKGS := OpenColorIO nlopt OpenEXR

WARN := -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
        -Wpointer-arith -Wcast-qual -Wwrite-strings -Wvla -Wdouble-promotion -Wundef \
        -Werror=implicit-function-declaration
# clang takes the float constants NAN and INFINITY for slips; gcc's warning, which leaves constants
# alone, finds the real ones. It also warns of loops that it does not lay out for vectors, which under
# the sanitizers it never does. What a list of rows leaves out is zero, and meant.
ifneq ($(findstring clang,$(CC)),)
WARN += -Wno-double-promotion -Wno-pass-failed -Wno-missing-field-initializers
endif
# No contraction and never fast-math: the same figures from every compiler and for every width of
# vectors. Another C library may round its exp, sin or pow otherwise in the last digit.
BASE_CFLAGS := -std=c11 -D_POSIX_C_SOURCE=200809L -DVS_VERSION='"$(VERSION)"' -Iinclude -Isrc \
               -I$(OUT)/gen -Itests/support -ffp-contract=off -fvisibility=hidden $(WARN)

SANITIZE := -fsanitize=address,undefined,float-divide-by-zero,float-cast-overflow \
            -fno-sanitize-recover=all -fno-omit-frame-pointer
CFLAGS_release   := -O3 -g
CFLAGS_debug     := -O0 -g3
CFLAGS_sanitized := -O1 -g $(SANITIZE)
CFLAGS_threads   := -O1 -g -fsanitize=thread
CFLAGS_valgrind  := -O1 -g
CFLAGS_coverage  := -Og -g --coverage
# The macro is libFuzzer's own for what a fuzzed build does otherwise: here, coarser grids.
CFLAGS_fuzz      := -O2 -g $(SANITIZE) -fsanitize=fuzzer-no-link -DFUZZING_BUILD_MODE_UNSAFE_FOR_PRODUCTION
LDFLAGS_sanitized := $(SANITIZE)
LDFLAGS_threads   := -fsanitize=thread
LDFLAGS_coverage  := --coverage
LDFLAGS_fuzz      := $(SANITIZE)
ifeq ($(filter $(VARIANT),release debug sanitized threads valgrind coverage fuzz),)
$(error VARIANT must be release, debug, sanitized, threads, valgrind, coverage or fuzz (got $(VARIANT)))
endif

# pkg-config is asked only when something is built: a bare machine must reach `make deps` first.
PKG_CFLAGS = $(shell pkg-config --cflags $(PKGS)) $(patsubst -I%,-isystem %,$(shell pkg-config --cflags OpenEXR))
PKG_LIBS   = $(shell pkg-config --libs $(PKGS)) -lOpenEXRCore -lm
TEST_LIBS  = $(shell pkg-config --libs $(TEST_PKGS))
OUTSIDE_LIBS = $(shell pkg-config --libs $(OUTSIDE_PKGS)) -lstdc++
CFLAGS_ALL = $(BASE_CFLAGS) $(CFLAGS_$(VARIANT)) $(PKG_CFLAGS) $(CFLAGS)
# A warning stops these. It does not stop a user's `make`, whose compiler may be one we have not met.
check ci: CFLAGS_ALL += -Werror
LDFLAGS_ALL = $(LDFLAGS_$(VARIANT)) $(LDFLAGS)

SOURCES  := $(sort $(wildcard src/*/*.c src/*/*/*.c))
CLI_SRC  := $(filter src/cli/%,$(SOURCES))
LIB_SRC  := $(filter-out src/cli/% src/page/%,$(SOURCES))
DATA     := $(sort $(wildcard data/fluids/*.json data/new/*.json data/*.json))
LIB_OBJ  := $(LIB_SRC:%.c=$(OUT)/%.o) $(if $(DATA),$(OUT)/gen/data_files.o)
CLI_OBJ  := $(CLI_SRC:%.c=$(OUT)/%.o)
LIB      := $(OUT)/libveilstop.a
PROGRAM  := $(OUT)/veilstop
# Only the release takes the place at the top: another variant there would stay, being newer.
FINISHED := $(if $(filter release,$(VARIANT)),$(BUILD)/veilstop,$(PROGRAM))

TEST_SUPPORT_SRC := $(wildcard tests/support/*.c)
TEST_SRC  := $(wildcard tests/unit/test_*.c tests/property/test_*.c tests/cli/test_*.c tests/outside/test_*.c tests/fault/test_*.c)
HOUSE_TESTS := $(wildcard tests/house/test_*.py)
TEST_BIN  := $(TEST_SRC:tests/%.c=$(OUT)/tests/%)
TEST_SUPPORT_OBJ := $(TEST_SUPPORT_SRC:%.c=$(OUT)/%.o)
OUTSIDE_OBJ := $(patsubst %.cc,$(OUT)/%.o,$(wildcard tests/outside/*.cc))
TEST_OBJ := $(patsubst %.c,$(OUT)/%.o,$(wildcard tests/*/*.c)) $(OUTSIDE_OBJ)
ACCURACY_BIN := $(patsubst tests/accuracy/%.c,$(OUT)/tests/accuracy/%,$(sort $(wildcard tests/accuracy/*.c)))
BENCH_BIN := $(patsubst tests/bench/%.c,$(OUT)/tests/bench/%,$(wildcard tests/bench/*.c))

HEADERS := $(wildcard include/veilstop/*.h include/veilstop/*/*.h)
ALL_HEADERS := $(HEADERS) $(sort $(wildcard src/*/*.h src/*/*/*.h))
FORMATTED := $(wildcard src/*/*.[ch] src/*/*/*.[ch] tests/*/*.[ch] tests/*/*.cc) $(HEADERS)

.PHONY: all deps demo test check check-layers check-headers check-symbols check-text check-static format \
        format-check lint ci sanitized-some accuracy mutants bench same-answers coverage sanitized valgrind \
        page page-deps page-tools test-page bench-page emulated clean help
.DELETE_ON_ERROR:
.DEFAULT_GOAL := all

all: $(FINISHED) ## build the program and the library

help: ## list the targets
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## /\1\t/' | expand -t 16

deps: ## install what the build needs (Debian), or say what to install
	@sh .ci/install-deps

DEMO := $(BUILD)/demo
demo: deps ## the main job: predict the demo's cellar, draw three shots of it, put its day on paper
	@$(MAKE) --no-print-directory $(ALL_CORES) all
	@$(BUILD)/veilstop predict data/demo/cellar.json || [ $$? -eq 1 ]
	@mkdir -p $(DEMO)
	@for shot in "1 wide" "2 hand lamp" "3 reverse"; do \
	  $(BUILD)/veilstop picture data/demo/cellar.json --shot "$$shot" --size 960x540 \
	    --out "$(DEMO)/$$shot.png" >/dev/null || exit 1; done
	@$(BUILD)/veilstop sheet data/demo/cellar.json --out $(DEMO)/day.html >/dev/null || [ $$? -eq 1 ]
	@printf '\nThe day on paper: %s (open it in a browser, print it)\nPictures: %s\n' \
	  "$(DEMO)/day.html" "$(DEMO)/1 wide.png, 2 hand lamp.png, 3 reverse.png"

# Without npm, clang's wasm target or Chromium, and no way to install them, the page alone is not tested.
test: deps ## build and run every test, the page's too where it can be built; ends with "N passed, N failed"
	@if $(MAKE) --no-print-directory page-tools; then $(MAKE) --no-print-directory $(ALL_CORES) WITH_PAGE=1 check; \
	else echo "the page is not tested: what it needs could not be installed"; \
	  $(MAKE) --no-print-directory $(ALL_CORES) check; fi

$(BUILD)/veilstop: $(PROGRAM)
	@cp -f $(PROGRAM) $@.new && mv -f $@.new $@

$(PROGRAM): $(CLI_OBJ) $(LIB)
	$(Q)$(CC) $(LDFLAGS_ALL) -o $@ $(CLI_OBJ) $(LIB) $(PKG_LIBS) -lpthread

# Some loops are laid out for vector code (src/base/vector.h). None of these changes a figure: sqrt
# need not set errno, no one traps floating-point exceptions, and loops marked for it become vectors.
VECTOR_SRC := $(sort $(shell grep -l LANES_CLONES $(LIB_SRC)) $(wildcard src/light/airlight/airlight_fast_*.c))
$(VECTOR_SRC:%.c=$(OUT)/%.o): CFLAGS_ALL += -fno-math-errno -fno-trapping-math -fopenmp-simd -DVS_LANES_SIMD

# The library as others use it: all but PNG and EXR files, which are the command line's. What it
# exports is what its headers declare. SONAME counts breaks of that; while it is 0 any version may.
SONAME      := 0
INSTALL_SRC := $(filter-out src/picture/png.c src/picture/apng.c src/picture/exr.c,$(LIB_SRC))
INSTALL_OBJ := $(INSTALL_SRC:%.c=$(OUT)/%.o) $(OUT)/gen/data_files.o
# One object serves the static and the shared library: it may lie anywhere, and what its file defines is
# called straight. The program pays nothing for that.
$(INSTALL_OBJ): CFLAGS_ALL += -fPIC -fno-semantic-interposition -fvisibility=default
SHARED      := $(OUT)/libveilstop.so.$(SONAME)
STATIC      := $(OUT)/install/libveilstop.a
SHARED_LIBS  = $(shell pkg-config --libs gsl libcjson) -lm
PREFIX ?= /usr/local
LIBDIR ?= $(PREFIX)/lib
HERE    = $(DESTDIR)$(1)

$(OUT)/exports.map: $(HEADERS) .ci/exports
	@mkdir -p $(@D)
	$(Q)sh .ci/exports VEILSTOP_$(SONAME) $(HEADERS) > $@

$(SHARED): $(INSTALL_OBJ) $(OUT)/exports.map
	$(Q)$(CC) $(LDFLAGS_ALL) -shared -Wl,--no-undefined -Wl,-soname,libveilstop.so.$(SONAME) \
	  -Wl,--version-script=$(OUT)/exports.map -o $@ $(INSTALL_OBJ) $(SHARED_LIBS)

$(STATIC): $(INSTALL_OBJ)
	@mkdir -p $(@D)
	@rm -f $@
	$(Q)$(AR) rcs $@ $^

$(OUT)/veilstop.pc: Makefile
	@mkdir -p $(@D)
	@printf '%s\n' 'prefix=$(PREFIX)' 'libdir=$(LIBDIR)' 'includedir=$${prefix}/include' '' 'Name: veilstop' \
	  'Description: what theatrical haze does to a film shot, calculated' 'Version: $(VERSION)' \
	  'Cflags: -I$${includedir}' 'Libs: -L$${libdir} -lveilstop' 'Requires.private: gsl libcjson' \
	  'Libs.private: -lm' > $@

.PHONY: install uninstall dist deb threads run-threads $(OUT)/veilstop.pc
install: $(PROGRAM) $(SHARED) $(STATIC) $(OUT)/veilstop.pc ## install program, library, headers (DESTDIR, PREFIX)
	@install -d $(call HERE,$(PREFIX)/bin) $(call HERE,$(LIBDIR)/pkgconfig) $(call HERE,$(PREFIX)/share/man/man1) \
	  $(call HERE,$(PREFIX)/share/bash-completion/completions)
	@install -m 755 $(PROGRAM) $(call HERE,$(PREFIX)/bin/veilstop)
	@install -m 644 $(STATIC) $(call HERE,$(LIBDIR)/libveilstop.a)
	@install -m 755 $(SHARED) $(call HERE,$(LIBDIR)/libveilstop.so.$(SONAME))
	@ln -sf libveilstop.so.$(SONAME) $(call HERE,$(LIBDIR)/libveilstop.so)
	@install -m 644 $(OUT)/veilstop.pc $(call HERE,$(LIBDIR)/pkgconfig/veilstop.pc)
	@install -m 644 docs/veilstop.1 $(call HERE,$(PREFIX)/share/man/man1/veilstop.1)
	@install -m 644 data/veilstop.bash $(call HERE,$(PREFIX)/share/bash-completion/completions/veilstop)
	@for h in $(HEADERS:include/%=%); do install -D -m 644 include/$$h "$(call HERE,$(PREFIX)/include)/$$h" || exit 1; done

uninstall: ## remove what install puts there
	@rm -f $(call HERE,$(PREFIX)/bin/veilstop) $(call HERE,$(LIBDIR)/libveilstop.a) \
	  $(call HERE,$(LIBDIR)/libveilstop.so) $(call HERE,$(LIBDIR)/libveilstop.so.$(SONAME)) \
	  $(call HERE,$(LIBDIR)/pkgconfig/veilstop.pc) $(call HERE,$(PREFIX)/share/man/man1/veilstop.1) \
	  $(call HERE,$(PREFIX)/share/bash-completion/completions/veilstop)
	@rm -rf $(call HERE,$(PREFIX)/include/veilstop)

dist: ## the sources in one archive: build/veilstop-VERSION.tar.gz
	@mkdir -p $(BUILD)
	@git archive --prefix=veilstop-$(VERSION)/ -o $(BUILD)/veilstop-$(VERSION).tar.gz HEAD

deb: dist ## Debian packages of the same, in build/deb
	@.ci/deb $(BUILD)/veilstop-$(VERSION).tar.gz $(VERSION) $(BUILD)/deb

threads: ## the test of handles and threads under the thread sanitizer
	@$(MAKE) --no-print-directory VARIANT=threads run-threads
run-threads: $(OUT)/tests/property/test_threads
	@$(RUN_TESTS) $(abspath $<)

$(LIB): $(LIB_OBJ)
	@rm -f $@
	$(Q)$(AR) rcs $@ $^


# No function may take more of the stack than this: a program that calls the library from a thread of
# its own has 128 KiB to give on some systems (musl's default). tests/fault/test_stack.c runs all
# commands in that much.
FRAME_BYTES_MAX := 65536
$(OUT)/src/%.o: CFLAGS_ALL += -Wframe-larger-than=$(FRAME_BYTES_MAX)

# What is not there is told in one line, before the compiler tells it in hundreds.
$(OUT)/gen/libraries:
	@mkdir -p $(@D)
	@sh .ci/has-libraries "$(CC)" $(PKGS) OpenEXR && touch $@
$(OUT)/gen/test-libraries:
	@mkdir -p $(@D)
	@sh .ci/has-libraries "$(CC)" $(PKGS) OpenEXR $(TEST_PKGS) $(OUTSIDE_PKGS) && touch $@
$(LIB_OBJ) $(CLI_OBJ): | $(OUT)/gen/libraries
$(TEST_OBJ): | $(OUT)/gen/test-libraries
$(OUT)/tests/%.o: CFLAGS_ALL += -Werror
$(OUT)/tests/%.o: PKG_CFLAGS += $(shell pkg-config --cflags $(TEST_PKGS))

# Flags stand here: objects made with others do not go together.
$(OUT)/%.o: %.c Makefile
	@mkdir -p $(@D)
	@echo "cc $<"
	$(Q)$(CC) $(CFLAGS_ALL) -MD -MP -c -o $@ $<

# The data files, compiled in, so that the program runs from any folder.
$(OUT)/gen/data_files.c: $(DATA) .ci/embed-data
	@mkdir -p $(@D)
	$(Q)sh .ci/embed-data $(DATA) > $@

$(OUT)/gen/data_files.o: $(OUT)/gen/data_files.c
	$(Q)$(CC) $(CFLAGS_ALL) -MD -MP -c -o $@ $<

# What every header includes, as the compiler sees it.
$(OUT)/gen/headers.d: $(ALL_HEADERS)
	@mkdir -p $(@D)
	$(Q)$(CC) $(BASE_CFLAGS) -M $(ALL_HEADERS) >$@.new && mv -f $@.new $@

$(OUT)/tests/outside/%.o: tests/outside/%.cc
	@mkdir -p $(@D)
	@echo "c++ $<"
	$(Q)$(CXX) -std=c++17 -O1 -g -Wall -Wextra -Werror $(shell pkg-config --cflags $(OUTSIDE_PKGS)) -MMD -MP -c -o $@ $<

$(OUT)/tests/outside/%: $(OUT)/tests/outside/%.o $(OUTSIDE_OBJ) $(TEST_SUPPORT_OBJ) $(LIB)
	@mkdir -p $(@D)
	$(Q)$(CC) $(LDFLAGS_ALL) -o $@ $< $(OUTSIDE_OBJ) $(TEST_SUPPORT_OBJ) $(LIB) $(PKG_LIBS) -lpthread $(TEST_LIBS) $(OUTSIDE_LIBS)

# The tables of kinds with a row more each: the sources that read them, compiled with it, stand before
# the library's own.
ROWS_SRC := src/shot/predict/want.c src/shot/scene/want_kind.c src/light/lamps/emitter.c src/light/lamps/light_kind.c \
            src/camera/curve.c src/scene/keys.c src/scene/parts/read_cameras.c src/scene/parts/read_lights.c \
            src/scene/parts/read_wants.c src/report/grade/clf_file.c
ROWS_OBJ := $(ROWS_SRC:%.c=$(OUT)/rows/%.o)
$(OUT)/rows/%.o: %.c tests/support/extra_rows.h
	@mkdir -p $(@D)
	$(Q)$(CC) $(CFLAGS_ALL) -include tests/support/extra_rows.h -c -o $@ $<

$(OUT)/tests/unit/test_extra_rows.o: CFLAGS_ALL += -include tests/support/extra_rows.h
$(OUT)/tests/unit/test_extra_rows: $(OUT)/tests/unit/test_extra_rows.o $(ROWS_OBJ) $(TEST_SUPPORT_OBJ) $(LIB)
	$(Q)$(CC) $(LDFLAGS_ALL) -o $@ $< $(ROWS_OBJ) $(TEST_SUPPORT_OBJ) $(LIB) $(PKG_LIBS) -lpthread $(TEST_LIBS)

$(OUT)/tests/%: $(OUT)/tests/%.o $(TEST_SUPPORT_OBJ) $(LIB)
	@mkdir -p $(@D)
	$(Q)$(CC) $(LDFLAGS_ALL) -o $@ $< $(TEST_SUPPORT_OBJ) $(LIB) $(PKG_LIBS) -lpthread $(TEST_LIBS)

# A line that names $(MAKE) runs under `make -n`, too: it must not run the tests then.
DRY_RUN := $(findstring n,$(filter-out -%,$(firstword $(MAKEFLAGS))))
RUN_TESTS = $(if $(DRY_RUN),: )VS_PROGRAM=$(abspath $(PROGRAM)) VS_TESTS=$(abspath tests) $(PAGE_ENV) sh tests/support/run-tests
# What takes longest begins first: the browser's tests of the page, checks that build, days on paper.
PAGE_TESTS := $(wildcard tests/page/browser/*.test.mjs tests/page/unit/*.test.mjs)
LONG_TESTS := $(filter %/test_sheet %/test_demo %/test_pair_grades,$(TEST_BIN)) $(filter %/test_deb.py,$(HOUSE_TESTS))
OWN_TESTS   = $(LONG_TESTS) $(filter-out $(LONG_TESTS),$(TEST_BIN) $(HOUSE_TESTS))
ifneq ($(WITH_PAGE),)
check: $(BUILD)/veilstop.html
CHECKED_PAGE := $(PAGE_TESTS)
endif
check: $(PROGRAM) $(FINISHED) $(TEST_BIN) ## run the tests and the checks of the house, without installing
	@$(RUN_TESTS) -c "$(MAKE) --no-print-directory check-static" $(abspath $(CHECKED_PAGE) $(OWN_TESTS))

# Of all tests under the sanitizers, which take half an hour, those that meet most code in least time.
SANITIZED_IN_CI := $(addprefix $(BUILD)/sanitized/tests/,unit/test_airlight unit/test_bounce unit/test_text)
sanitized-some: ## some tests under the sanitizers: those that CI has time for
	@$(MAKE) --no-print-directory VARIANT=sanitized TEST_BIN="$(SANITIZED_IN_CI)" HOUSE_TESTS= WITH_PAGE= check

ci: $(PROGRAM) $(FINISHED) $(TEST_BIN) $(BUILD)/veilstop.html ## what CI runs: check with the page, format-check, lint, threads, and some tests sanitized
	@$(RUN_TESTS) $(abspath $(PAGE_TESTS)) -c "$(MAKE) --no-print-directory sanitized-some" -c "LINT=quick $(MAKE) --no-print-directory lint" \
	  -c "$(MAKE) --no-print-directory threads" -c "$(MAKE) --no-print-directory check-static" \
	  -c "$(MAKE) --no-print-directory format-check" $(abspath $(OWN_TESTS))

check-static: check-layers check-headers check-symbols check-text ## the checks that read the source

# The sanitizers and the coverage build put symbols of their own into the objects.
check-layers: $(LIB_OBJ) $(CLI_OBJ) $(OUT)/gen/headers.d ## rooms use what .ci/layers says; the core does no I/O and keeps nothing
	@.ci/check-layers $(if $(filter sanitized coverage,$(VARIANT)),--includes-only) $(OUT)/gen/headers.d $(LIB_OBJ) $(CLI_OBJ)

check-headers: ## each public header compiles alone, as C11 and as C++17; veilstop.h names them all
	@sh .ci/check-headers "$(CC)" $(HEADERS)

check-symbols: $(LIB) ## every symbol the library exports starts with vs_
	@sh .ci/check-symbols $(LIB)

check-text: ## comments keep their form; every file says its licence
	@.ci/check-text $(FORMATTED) $(wildcard .ci/* tests/*/*.py) Makefile tests/support/run-tests

format: ## rewrite the sources with clang-format
	@clang-format -i $(FORMATTED)

format-check: ## fail where clang-format would change something
	@clang-format --dry-run --Werror $(FORMATTED)

lint: ## cppcheck and clang-tidy
	@sh .ci/lint "$(BASE_CFLAGS) $(PKG_CFLAGS)" $(LIB_SRC) $(CLI_SRC)

sanitized: ## the tests under the address and undefined-behaviour sanitizers
	@$(MAKE) --no-print-directory VARIANT=sanitized check

# Those of the command line run the program outside valgrind, so the demo goes through it instead.
VALGRIND := valgrind -q --error-exitcode=9 --leak-check=full
valgrind: ## the tests of the library, and the demo, under valgrind
	@$(MAKE) --no-print-directory VARIANT=valgrind VS_WRAP="$(VALGRIND)" \
	  TEST_SRC="$(filter-out tests/cli/% tests/outside/%,$(TEST_SRC))" check
	@$(VALGRIND) $(BUILD)/valgrind/veilstop predict data/demo/cellar.json >/dev/null || [ $$? -eq 1 ]

# The page: the core as WebAssembly and the page's own modules in one file. What the build fetches and
# makes on the way lies in build/page; neither npm nor clang is needed for anything else.
PAGE := $(BUILD)/page
PAGE_ENV = VS_PAGE=$(abspath $(BUILD)/veilstop.html) VS_CORE=$(abspath $(PAGE)/core.wasm) VS_MODULES=$(abspath $(PAGE)/npm/node_modules)
PAGE_SRC := $(shell find src/page -name '*.js' -o -name '*.jsx' -o -name '*.css' -o -name '*.html' -o -name '*.mjs')
CORE_SRC := $(SOURCES) $(HEADERS) $(wildcard src/*/*.h src/*/*/*.h) $(DATA) src/page/build/wasm.sh

page: page-deps ## the whole tool in one file, build/veilstop.html
	@$(MAKE) --no-print-directory $(BUILD)/veilstop.html

page-deps: ## install what the page needs (Debian), or say what to install
	@sh src/page/build/install-deps

page-tools: page-deps $(PAGE)/sources $(PAGE)/npm/node_modules # all that is fetched for the page

$(PAGE)/sources:
	$(Q)sh src/page/build/sources.sh $@

$(PAGE)/core.wasm: $(CORE_SRC) | $(PAGE)/sources
	$(Q)sh src/page/build/wasm.sh $(PAGE)

$(PAGE)/npm/node_modules: src/page/package.json src/page/package-lock.json
	@mkdir -p $(PAGE)/npm && cp $^ $(PAGE)/npm/
	$(Q)cd $(PAGE)/npm && rm -rf node_modules && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error && touch node_modules

$(BUILD)/veilstop.html: $(PAGE)/core.wasm $(PAGE)/npm/node_modules $(PAGE_SRC) $(wildcard data/demo/*)
	$(Q)VERSION=$(VERSION) node src/page/build/bundle.mjs $(PAGE)/npm/node_modules $(PAGE)/core.wasm $@

test-page: page-deps ## the page's tests alone: its modules, then the page in Chromium
	@$(MAKE) --no-print-directory $(PROGRAM) $(FINISHED) $(BUILD)/veilstop.html
	@VS_PROGRAM=$(abspath $(PROGRAM)) $(PAGE_ENV) tests/page/run

bench-page: page ## how long the page takes, in Chromium
	@$(PAGE_ENV) node tests/page/measure.mjs

# Changed inputs through the library's door, under the sanitizers: clang's libFuzzer. What is found lies
# in build/fuzz/found, what was learnt in build/fuzz/corpus.
FUZZ_SECONDS ?= 60
FUZZ_SRC := $(sort $(wildcard tests/fuzz/fuzz_*.c))
FUZZ_SHARED := $(patsubst %.c,$(OUT)/%.o,$(filter-out $(FUZZ_SRC),$(wildcard tests/fuzz/*.c)))
FUZZ_BIN := $(FUZZ_SRC:%.c=$(OUT)/%)
# The page's door as this machine's code.
FUZZ_PAGE := $(patsubst %.c,$(OUT)/%.o,$(wildcard src/page/core/*.c))
$(OUT)/tests/fuzz/fuzz_page: $(FUZZ_PAGE)
# To see every comparison of the long sums would take most of the time, and no input is found by them.
ifeq ($(VARIANT),fuzz)
LONG_SUMS := src/light/% src/optics/% src/air/% src/camera/% src/shot/% src/picture/pair/% src/picture/view/% \
             src/picture/interpolation/% src/base/numerics/%
$(patsubst %.c,$(OUT)/%.o,$(filter $(LONG_SUMS),$(LIB_SRC))): CFLAGS_ALL += -fno-sanitize-coverage=trace-cmp
endif
$(FUZZ_SRC:%.c=$(OUT)/%): $(OUT)/tests/fuzz/%: $(OUT)/tests/fuzz/%.o $(FUZZ_SHARED) $(LIB)
	$(Q)$(CC) $(LDFLAGS_ALL) -fsanitize=fuzzer -o $@ $< $(filter $(FUZZ_PAGE),$^) $(FUZZ_SHARED) $(LIB) $(PKG_LIBS) -lz -lpthread

.PHONY: fuzz fuzz-built
fuzz-built: $(FUZZ_BIN)
fuzz: ## changed inputs under the sanitizers, FUZZ_SECONDS a target (FUZZ="fuzz_png ..." some)
	@$(MAKE) --no-print-directory VARIANT=fuzz CC=clang fuzz-built
	@tests/fuzz/run $(FUZZ_SECONDS) $(BUILD)/fuzz $(addprefix $(BUILD)/fuzz/tests/fuzz/,$(or $(FUZZ),$(notdir $(FUZZ_BIN))))

coverage: ## line coverage by folder, and what no test ran
	@[ ! -d $(BUILD)/coverage ] || find $(BUILD)/coverage -name '*.gcda' -exec rm -f {} +
	@$(MAKE) --no-print-directory VARIANT=coverage check
	@.ci/coverage $(BUILD)/coverage

accuracy: $(ACCURACY_BIN) ## measure what the figures are good for, write docs/accuracy.md
	@broken=0; for a in $(abspath $(ACCURACY_BIN)); do VS_TESTS=$(abspath tests) $$a || broken=1; done \
	  > docs/accuracy.md.new; mv -f docs/accuracy.md.new docs/accuracy.md; exit $$broken

mutants: ## slightly wrong programs: each edit of tests/mutants/mutants.txt must turn a test red
	@tests/mutants/run.py

bench: $(BENCH_BIN) $(PROGRAM) ## speed as ratios, side by side in one run
	@for b in $(abspath $(BENCH_BIN)); do VS_PROGRAM=$(abspath $(PROGRAM)) VS_TESTS=$(abspath tests) $$b || exit 1; done

same-answers: ## programs of gcc, clang and gcc for lower levels of x86-64 give the same answers, byte by byte
	@sh .ci/same-answers gcc clang $(if $(findstring x86_64,$(shell uname -m)),gcc:avx2 gcc:sse2)

# Other processors: 64 bits little-endian, 64 bits big-endian, 32 bits. Those of the tests that meet
# bytes, sums and figures and take little time.
MACHINES ?= arm64 s390x armhf
EMULATED := $(addprefix unit/test_,apng base camera colour curve detectors edit exposure file_list fit form_factor \
            haze index json lanes lm63 mie minimum phase photometry png robust rooms scene_file scene_keys \
            scene_photometry sizes space spheres statistics utf8)
emulated: ## unit tests on other processors (MACHINES): cross compilers and qemu
	@for m in $(MACHINES); do echo "$$m:"; .ci/emulated $(BUILD)/emulated $$m $(EMULATED) || exit 1; done

clean: ## remove everything built
	rm -rf $(BUILD)

-include $(wildcard $(OUT)/src/*/*.d $(OUT)/src/*/*/*.d $(OUT)/tests/*/*.d)
.SECONDARY:
