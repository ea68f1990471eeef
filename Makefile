# platen: build, check and demo. One Makefile; each folder of core is a room,
# and a room's sources are what lies in its folder.
#
#   make demo      set up, build, walk the whole job, say where the report lies
#   make check     set up, build, every test
#   make help      the other targets

B      ?= build
PREFIX ?= /usr/local
CC     ?= cc
VERSION := 0.1.0

# ---------------------------------------------------------------- set-up ----
# A bare machine has neither libraries nor pkg-config: set-up runs first, and
# make then re-enters itself so that the flags below are read afresh.

PACKAGES_build := gcc libc6-dev make pkg-config libgsl-dev libcjson-dev libcsv-dev libudunits2-dev \
                  libsqlite3-dev libssl-dev libseccomp-dev zlib1g-dev libqrencode-dev \
                  gnuplot-nox
PACKAGES_check := $(PACKAGES_build) libcmocka-dev libical-dev ?chromium ?zbar-tools
PACKAGES_lint  := $(PACKAGES_check) clang-format clang-tidy cppcheck
PACKAGES_bench := $(PACKAGES_check) time
PACKAGES_fuzz  := $(PACKAGES_check) clang llvm

# Each goal installs its own set and nothing more.
SETUP_all := build
SETUP_demo := build
SETUP_install := build
SETUP_check := check
SETUP_sanitize := check
SETUP_validation := check
SETUP_torture := check
SETUP_lint := lint
SETUP_bench := bench
SETUP_fuzz := fuzz

GOALS := all demo install check sanitize validation torture lint bench fuzz

.PHONY: $(GOALS) help clean
.DEFAULT_GOAL := all

ifndef PLATEN_SETUP_DONE
$(GOALS):
	@sh tests/set-up.sh $(PACKAGES_$(SETUP_$@))
	@$(MAKE) --no-print-directory -j$$(nproc) PLATEN_SETUP_DONE=1 $@
else

# ----------------------------------------------------------------- flags ----
PKGS := gsl libcjson udunits sqlite3 libcrypto libseccomp zlib libqrencode
# udunits2 and libcsv ship no pkg-config file on Debian 12.
PKGS_FOUND := $(shell for p in $(PKGS); do pkg-config --exists $$p && echo $$p; done)
PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS_FOUND) 2>/dev/null | sed 's/-I/-isystem /g')
LIBS_base  := -lgsl -lgslcblas -lcjson -lcsv -ludunits2 -lcrypto -lm
LIBS_page  := -lqrencode
LIBS_rigs  := -lseccomp -ldl
LIBS_book  := -lsqlite3 -lz
LIBS       := $(LIBS_page) $(LIBS_rigs) $(LIBS_book) $(LIBS_base)

# -Wconversion and -Wshadow: silent narrowing and hidden names are how numbers
# code goes wrong. -ffp-contract=off: results must not depend on whether the
# machine has fused multiply-add. Never -ffast-math.
WARN := -Wall -Wextra -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes \
        -Wpointer-arith -Wcast-qual -Wvla -Wformat=2 -Wundef
OPT    ?= -O2 -g
STDC   := -std=gnu11 -ffp-contract=off -fno-math-errno -fPIC -fvisibility=hidden
DEFS   := -D_GNU_SOURCE -DPL_VERSION='"$(VERSION)"' -DPL_PREFIX='"$(PREFIX)"'
EXTRA  ?=
OPENMP ?= -fopenmp
ALL_CFLAGS = $(STDC) $(OPT) $(WARN) $(WERROR) $(DEFS) -Icore -Iplugins/include $(PKG_CFLAGS) \
             $(OPENMP) $(EXTRA) $(CFLAGS)
WERROR ?=

# ----------------------------------------------------------------- rooms ----
# Lowest first. A room may look at the rooms named beside it, and tests link
# against just those: looking the wrong way does not link. tests/include-check.sh
# holds the includes to the same lines.
ROOMS := base study model design fit size rigs book page bench report cli
SEES_base   := base
SEES_study  := study $(SEES_base)
SEES_model  := model $(SEES_study)
SEES_design := design $(SEES_model)
SEES_fit    := fit $(SEES_design)
SEES_size   := size $(SEES_fit)
SEES_rigs   := rigs $(SEES_model)
SEES_book   := book $(SEES_study)
SEES_page   := page $(SEES_base)
SEES_bench  := bench size fit design rigs model book page study base
SEES_report := report size fit design rigs model book page study base
SEES_cli    := cli report bench size fit design rigs model book page study base

src   = $(wildcard core/$(1)/*.c core/$(1)/*/*.c)
objs  = $(patsubst %.c,$(B)/%.o,$(call src,$(1)))
LIB_SRC := $(foreach r,$(filter-out cli,$(ROOMS)),$(call src,$(r)))
LIB_OBJ := $(LIB_SRC:%.c=$(B)/%.o)
CLI_SRC := $(call src,cli)
CLI_OBJ := $(CLI_SRC:%.c=$(B)/%.o)
ROOM_LIBS := $(foreach r,$(ROOMS),$(B)/lib/$(r).a)

PLUGINS := $(notdir $(patsubst %/,%,$(filter-out plugins/include/,$(wildcard plugins/*/))))
PLUGIN_SO := $(PLUGINS:%=$(B)/plugins/%.so)

all: $(B)/platen $(PLUGIN_SO)
	@chmod -R go-w $(B)/plugins $(B)/platen

$(B)/platen: $(CLI_OBJ) $(B)/libplaten.a
	$(call SAY,link $@)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(CLI_OBJ) $(B)/libplaten.a $(LIBS)

$(B)/libplaten.a: $(LIB_OBJ)
	@rm -f $@
	@$(AR) rcs $@ $(LIB_OBJ)

define room_lib
$(B)/lib/$(1).a: $(call objs,$(1))
	@mkdir -p $$(@D); rm -f $$@
	@$$(AR) rcs $$@ $$^
endef
$(foreach r,$(ROOMS),$(eval $(call room_lib,$(r))))

# Whole commands with V=1.
SAY = $(if $(V),,@echo '  $(1)' &&)

$(B)/%.o: %.c
	@mkdir -p $(@D)
	$(call SAY,cc $<)$(CC) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

# A plugin links against nothing of ours; its version script hides all but the
# one symbol.
$(B)/plugins/%.so: plugins/exports.map plugins/include/platen/plugin.h $(wildcard plugins/*/*.c)
	@mkdir -p $(@D)
	$(call SAY,plugin $*)$(CC) $(STDC) $(OPT) $(WARN) $(WERROR) -Iplugins/include -shared \
	  -Wl,--version-script=plugins/exports.map $(EXTRA) $(LDFLAGS) -o $@ $(wildcard plugins/$*/*.c) -lm
	@chmod go-w $@ $(@D)

-include $(shell find $(B) -name '*.d' 2>/dev/null)

# ----------------------------------------------------------------- tests ----
# tests/ROOM/test_X.c becomes build/tests/ROOM/test_X, linked with the rooms
# that ROOM sees.
TEST_SRC := $(wildcard $(foreach r,$(ROOMS),tests/$(r)/test_*.c))
TEST_BIN := $(TEST_SRC:%.c=$(B)/%)
TEST_ENV := PLATEN=$(abspath $(B))/platen PLATEN_TOP=$(CURDIR) PLATEN_BUILD=$(abspath $(B)) LC_ALL=C.UTF-8

# libical reads the calendar back.
LIBS_test_calendar := -lical

define room_test
$(B)/tests/$(1)/%: tests/$(1)/%.c tests/support.h $(foreach r,$(SEES_$(1)),$(B)/lib/$(r).a)
	@mkdir -p $$(@D)
	$$(call SAY,test $$*)$$(CC) $$(ALL_CFLAGS) -Itests -MMD -MP $$(LDFLAGS) -o $$@ $$< $(foreach r,$(SEES_$(1)),$(B)/lib/$(r).a) \
	  $(if $(filter page,$(SEES_$(1))),$(LIBS_page)) $(if $(filter rigs,$(SEES_$(1))),$(LIBS_rigs)) $(if $(filter book,$(SEES_$(1))),$(LIBS_book)) $(LIBS_base) -lcmocka $$(LIBS_$$*)
endef
$(foreach r,$(ROOMS),$(eval $(call room_test,$(r))))

# Plugins that do wrong, for tests/rigs/test_faults.c.
FAULT_SO := $(patsubst tests/faults/%.c,$(B)/faults/%.so,$(wildcard tests/faults/*.c))
$(B)/faults/%.so: tests/faults/%.c tests/faults/fault.h tests/faults/curve.h plugins/exports.map \
  plugins/include/platen/plugin.h
	@mkdir -p $(@D)
	$(call SAY,fault $*)$(CC) $(STDC) $(OPT) $(WARN) $(WERROR) -D_GNU_SOURCE -DFAULT_NAME='"$*"' -Iplugins/include \
	  -shared -Wl,--version-script=plugins/exports.map $(EXTRA) $(LDFLAGS) -o $@ $< -lm
	@chmod go-w $@ $(@D)
check-rigs check-report: $(PLUGIN_SO) $(FAULT_SO)

# Fuzz targets. tests/fuzz/X.c is one; record.c is one a plugin that reads records, the
# plugin linked in. Beside replay.c each is a test that reads its seeds and finds.
FUZZ_RECORDS := load-cell pressure-log test-frame
FUZZ_PLAIN   := study units csv forms answer
FUZZ_TARGETS := $(FUZZ_PLAIN) $(FUZZ_RECORDS)
FUZZ_TESTS   := $(FUZZ_TARGETS:%=$(B)/tests/fuzz/%)
FUZZ_LINK     = $(CC) $(ALL_CFLAGS) -Itests $(LDFLAGS) -DFUZZ_TARGET='"$*"' -o $@
FUZZ_LIBS    := $(B)/libplaten.a $(LIBS) -lcmocka
# a child's words without the child: tests/fuzz/answer.c
FUZZ_WRAP     = $(if $(filter answer,$*),-Wl$(COMMA)--wrap=pl_child_visit -Wl$(COMMA)--wrap=pl_find_plugin)
COMMA := ,
fuzz_from     = $(if $(filter $*,$(FUZZ_RECORDS)),tests/fuzz/record.c $(wildcard plugins/$*/*.c),tests/fuzz/$*.c)
FUZZ_ALL     := $(wildcard tests/fuzz/*.[ch]) $(wildcard $(FUZZ_RECORDS:%=plugins/%/*.c)) $(B)/libplaten.a
$(FUZZ_TESTS): $(B)/tests/fuzz/%: $(FUZZ_ALL)
	@mkdir -p $(@D)
	$(call SAY,fuzz target $*)$(FUZZ_LINK) $(fuzz_from) tests/fuzz/replay.c $(FUZZ_WRAP) $(FUZZ_LIBS)
$(FUZZ_TARGETS:%=$(B)/fuzzers/%): $(B)/fuzzers/%: $(FUZZ_ALL)
	@mkdir -p $(@D)
	$(call SAY,fuzzer $*)$(FUZZ_LINK) -fsanitize=fuzzer $(fuzz_from) $(FUZZ_WRAP) $(FUZZ_LIBS)

# One room's tests alone: make check-fit
$(ROOMS:%=check-%): check-%: 
	@$(MAKE) --no-print-directory PLATEN_SETUP_DONE=1 WERROR=-Werror run-tests \
	  RUN="$(patsubst %.c,$(B)/%,$(wildcard tests/$*/test_*.c))"
.PHONY: $(ROOMS:%=check-%) run-tests run-cli
run-tests: $(RUN)
	@set -e; for t in $(RUN); do echo "== $$t"; $(TEST_ENV) $$t; done

check: WERROR := -Werror
check: all $(B)/invent $(B)/beside $(B)/digits $(TEST_BIN) $(FAULT_SO) $(FUZZ_TESTS)
	@sh tests/include-check.sh
	@sh tests/doc-check.sh
	@sh tests/header-check.sh "$(CC) $(ALL_CFLAGS)"
	@$(TEST_ENV) sh tests/run-all.sh $(TEST_BIN) $(FUZZ_TESTS)

# Address and undefined behaviour. The child that runs plugins has its own leak
# rules, so leak checking is off there (core/rigs). -O2: with less the loops over numbers take
# two and a half times as long.
sanitize:
	@$(MAKE) --no-print-directory PLATEN_SETUP_DONE=1 B=$(B)/sanitize \
	  EXTRA="-fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer" \
	  OPT="-O2 -g" check

# libFuzzer on each target, FUZZ_SECONDS each. What it finds lies in build/fuzz/finds; once
# mended it moves to tests/fuzz/finds/TARGET, where make check reads it.
FUZZ_SECONDS ?= 30
FUZZ ?= $(FUZZ_TARGETS)
fuzz:
	@$(MAKE) --no-print-directory PLATEN_SETUP_DONE=1 B=$(B)/fuzz CC=clang OPENMP= WERROR= \
	  EXTRA="-fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer" \
	  OPT="-O1 -g" run-fuzz
run-fuzz: $(FUZZ:%=$(B)/fuzzers/%)
	@$(TEST_ENV) sh tests/fuzz.sh $(FUZZ_SECONDS) $(FUZZ)
.PHONY: run-fuzz

# The same tests in their long form: figures (validation), and kills, failing
# memory and failing disks (torture).
OF_FIGURES := model design fit size
validation: all $(TEST_BIN) $(B)/digits $(FAULT_SO)
	@$(TEST_ENV) sh tests/nist.sh >$(B)/digits.md && mv $(B)/digits.md docs/digits.md
	@cat docs/digits.md
	@PLATEN_LONG=1 $(TEST_ENV) sh tests/run-all.sh \
	  $(foreach r,$(OF_FIGURES),$(filter $(B)/tests/$(r)/%,$(TEST_BIN)))
torture: all $(TEST_BIN) $(FAULT_SO)
	@PLATEN_LONG=1 $(TEST_ENV) sh tests/run-all.sh \
	  $(foreach r,$(filter-out $(OF_FIGURES),$(ROOMS)),$(filter $(B)/tests/$(r)/%,$(TEST_BIN)))

lint: all
	@sh tests/lint.sh "$(STDC) -D_GNU_SOURCE -Icore -Iplugins/include $(PKG_CFLAGS)"

bench: all $(B)/invent $(B)/beside $(B)/many_studies $(B)/plan_growth $(B)/tests/book/test_speed \
  $(B)/tests/design/test_speed
	@$(TEST_ENV) sh tests/bench.sh
	@$(TEST_ENV) sh tests/bench-speed.sh
	@$(TEST_ENV) sh tests/bench-ingest.sh

# Helpers of demo, tests and bench: readings invented from a seed, figures side by side, digits in
# common, a book with many studies.
$(B)/invent $(B)/beside $(B)/digits $(B)/many_studies $(B)/plan_growth: $(B)/%: tests/demo/%.c $(B)/libplaten.a
	$(call SAY,link $@)$(CC) $(ALL_CFLAGS) -MMD -MP $(LDFLAGS) -o $@ $< $(B)/libplaten.a $(LIBS)

demo: all $(B)/invent $(B)/beside
	@$(TEST_ENV) sh tests/demo.sh

# --------------------------------------------------------------- install ----
install: all
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/lib/platen/plugins \
	  $(DESTDIR)$(PREFIX)/include/platen $(DESTDIR)$(PREFIX)/lib/pkgconfig \
	  $(DESTDIR)$(PREFIX)/share/platen/designs/rigs $(DESTDIR)$(PREFIX)/share/doc/platen
	install -m 755 $(B)/platen $(DESTDIR)$(PREFIX)/bin/platen
	install -m 755 $(PLUGIN_SO) $(DESTDIR)$(PREFIX)/lib/platen/plugins
	install -m 644 plugins/include/platen/plugin.h $(DESTDIR)$(PREFIX)/include/platen/
	install -m 644 designs/*.json $(DESTDIR)$(PREFIX)/share/platen/designs
	install -m 644 designs/rigs/*.json $(DESTDIR)$(PREFIX)/share/platen/designs/rigs
	install -m 644 docs/*.md $(DESTDIR)$(PREFIX)/share/doc/platen
	for at in man:man/man1/platen.1 bash:bash-completion/completions/platen \
	  zsh:zsh/site-functions/_platen fish:fish/vendor_completions.d/platen.fish; do \
	  to=$(DESTDIR)$(PREFIX)/share/$${at#*:}; install -d "$$(dirname "$$to")"; \
	  $(B)/platen help $${at%%:*} > "$$to" && chmod 644 "$$to" || exit 1; done
	sed -e 's|@PREFIX@|$(PREFIX)|' -e 's|@VERSION@|$(VERSION)|' plugins/platen.pc.in \
	  > $(DESTDIR)$(PREFIX)/lib/pkgconfig/platen.pc

endif

help:
	@echo 'make demo        set up, build, walk the whole job'
	@echo 'make check       set up, build, every test'
	@echo 'make check-fit   the tests of one room (base study ... cli)'
	@echo 'make sanitize    every test with address and undefined-behaviour checks'
	@echo 'make validation  the checks of figures in their long form'
	@echo 'make torture     kills, failing memory and failing disks in their long form'
	@echo 'make fuzz        libFuzzer on every parser, FUZZ_SECONDS=30 each, FUZZ="csv study" for some'
	@echo 'make lint        clang-format, clang-tidy, cppcheck'
	@echo 'make bench       times and memory'
	@echo 'make install     PREFIX=/usr/local DESTDIR='
	@echo 'make clean'

clean:
	rm -rf $(B)
