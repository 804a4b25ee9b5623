# dewbell. `make demo` runs the main job on the demo garden, `make check` proves it; both install what is missing.
# `make help` lists the rest.

VERSION  = 0.1.0
prefix   = /usr/local
DESTDIR  =
CC       = gcc
B        = build
SEED     =
FUZZ_SECONDS = 300

# Debian packages: to build, to test, to look after the code. The one list; tests/deps.sh installs what is missing.
BUILD_PACKAGES = gcc make pkg-config libc6-dev libical-dev libinih-dev libjson-c-dev libsqlite3-dev uuid-dev \
	libxxhash-dev libssl-dev tzdata libcurl4-openssl-dev libmicrohttpd-dev libsystemd-dev zlib1g-dev
DEMO_PACKAGES  = python3 curl
TEST_PACKAGES  = libcmocka-dev valgrind procps python3 python3-icalendar python3-vobject python3-ephem nodejs npm clang-format-14 clang-tidy-14 \
	cppcheck clang-14 libclang-rt-14-dev g++ binutils curl openssl strace mandoc systemd iproute2 man-db bash-completion python3-prometheus-client python3-aiosmtpd nginx-light radicale xandikos \
	vdirsyncer khal calcurse todoman nghttp2-client glpk-utils

LIBS     = libical inih json-c sqlite3 uuid libxxhash libcrypto libcurl libmicrohttpd libsystemd zlib
CFLAGS   = -O2 -g
WARN     = -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes $(if $(CI),-Werror)
LIBS_CFLAGS := $(shell pkg-config --cflags $(LIBS) 2>/dev/null)
LIBS_LINK   := $(shell pkg-config --libs $(LIBS) 2>/dev/null)
CPPFLAGS = -Iinclude -Idaemon -Itests -D_GNU_SOURCE -DDB_VERSION='"$(VERSION)"' $(LIBS_CFLAGS)
LDLIBS   = $(LIBS_LINK) -lm
COMPILE  = $(CC) -std=c17 $(CPPFLAGS) $(CFLAGS) $(WARN)
LINK     = $(CC) $(CFLAGS) $(LDFLAGS)

# make V=1 shows whole commands.
Q        = $(if $(V),,@)
say      = $(if $(V)$(findstring s,$(firstword -$(MAKEFLAGS))),,@echo '  $1')

PURE     = base calc model rules engine
ENGINE_C = $(sort $(wildcard $(PURE:%=daemon/%/*.c)))
IO_C     = $(sort $(wildcard daemon/read/*.c daemon/write/*.c daemon/record/*.c))
CLI_C    = $(sort $(wildcard daemon/cli/*.c))
DAEMON_C = $(wildcard daemon/service/main.c)
SERVICE_C = $(filter-out $(DAEMON_C),$(sort $(wildcard daemon/service/*.c)))
TEST_C   = $(sort $(wildcard tests/unit/*.c tests/property/*.c))
OUTSIDE_C = $(sort $(wildcard tests/outside/*.c))
SEASON_C = $(sort $(wildcard tests/season/*.c))
BENCH_C  = $(sort $(wildcard tests/bench/*.c))
FUZZ_C   = $(sort $(wildcard tests/fuzz/fuzz_*.c))
ENGINE_O = $(ENGINE_C:%.c=$B/%.o)
IO_O     = $(IO_C:%.c=$B/%.o)
CLI_O    = $(CLI_C:%.c=$B/%.o)
ALL_C    = $(ENGINE_C) $(IO_C) $(SERVICE_C) $(DAEMON_C) $(CLI_C) $(TEST_C) $(OUTSIDE_C) $(SEASON_C) $(BENCH_C) $(FUZZ_C) tests/fuzz/replay.c
# An archive, so that a program takes of the service only what it uses.
BELOW    = $(if $(SERVICE_C),$B/service.a) $(IO_O) $B/libdewbell.a

# Variants are the same tree built into a folder of their own with another compiler line.
SANITIZE = -fno-omit-frame-pointer -fno-sanitize-recover=all \
	-fsanitize=address,undefined,float-divide-by-zero,float-cast-overflow
ASAN     = $(MAKE) --no-print-directory B=$B/asan CC=clang-14 CFLAGS='-O1 -g $(SANITIZE)'
FUZZ     = $(MAKE) --no-print-directory B=$B/fuzz CC=clang-14 CFLAGS='-O1 -g $(SANITIZE) -fsanitize=fuzzer-no-link' \
	FUZZ_LINK=-fsanitize=fuzzer

all: $B/libdewbell.a $(if $(CLI_C),$B/dewbell) $(if $(DAEMON_C),$B/dewbelld) ## Build the engine's library and the program into build/

# The compile line as it was last used: when it changes, everything is compiled anew.
$B/compile.line: FORCE
	@pkg-config --exists $(LIBS) || { echo 'Some libraries are missing: run "make deps".' >&2; exit 1; }
	@: $(shell mkdir -p $(@D))$(file >$@.new,$(COMPILE) $(LDFLAGS) $(LDLIBS))
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi

# Where it will be installed concerns two objects, so that `make install prefix=/usr` after `make` compiles no more than these.
$B/share.line: FORCE
	@: $(shell mkdir -p $(@D))$(file >$@.new,$(prefix))
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi
SHARE_O  = $B/daemon/cli/session.o $B/daemon/service/main.o
$(SHARE_O): $B/share.line
$(SHARE_O): private CPPFLAGS += -DDB_SHARE='"$(prefix)/share/dewbell"'

$B/%.o: %.c $B/compile.line
	@mkdir -p $(@D)
	$(call say,$<)
	$Q$(COMPILE) -MMD -MP -c -o $@ $<

# The same for the library's members: a source that is gone leaves it, too.
$B/engine.list: FORCE
	@: $(shell mkdir -p $(@D))$(file >$@.new,$(ENGINE_O))
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi

$B/libdewbell.a: $(ENGINE_O) $B/engine.list
	@rm -f $@
	$(call say,$@)
	$Q$(AR) rcs $@ $(ENGINE_O)

$B/service.list: FORCE
	@: $(shell mkdir -p $(@D))$(file >$@.new,$(SERVICE_C))
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi

$B/service.a: $(SERVICE_C:%.c=$B/%.o) $B/service.list
	@rm -f $@
	$(call say,$@)
	$Q$(AR) rcs $@ $(SERVICE_C:%.c=$B/%.o)

$B/dewbell: $(CLI_O) $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $(CLI_O) $(BELOW) $(LDLIBS)

$B/dewbelld: $(DAEMON_C:%.c=$B/%.o) $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $(DAEMON_C:%.c=$B/%.o) $(BELOW) $(LDLIBS)

# Unit and property tests: one program a file, each with the whole engine and the readers and writers.
$(TEST_C:%.c=$B/%): $B/%: $B/%.o $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $< $(BELOW) $(LDLIBS) -lcmocka
# It stands between the doors and what they call.
$B/tests/unit/service_doors: LDLIBS += -Wl,--wrap=db_record_tokens,--wrap=EVP_DigestUpdate,--wrap=EVP_DigestFinal_ex
$B/tests/season/season: $(SEASON_C:%.c=$B/%.o) $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $(SEASON_C:%.c=$B/%.o) $(BELOW) $(LDLIBS)
$(OUTSIDE_C:%.c=$B/%): $B/%: $B/%.o $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $< $(BELOW) $(LDLIBS)
$B/tests/bench/bench: $(BENCH_C:%.c=$B/%.o) $(BELOW)
	$(call say,$@)
	$Q$(LINK) -o $@ $(BENCH_C:%.c=$B/%.o) $(BELOW) $(LDLIBS)

# A fuzz target is built twice: with libFuzzer, and as REPLAY, which runs it over files and needs no fuzzer.
$(FUZZ_C:tests/fuzz/%.c=$B/replay/%): $B/replay/%: $B/tests/fuzz/%.o $B/tests/fuzz/replay.o $(BELOW)
	@mkdir -p $(@D)
	$(call say,$@)
	$Q$(LINK) -o $@ $< $B/tests/fuzz/replay.o $(BELOW) $(LDLIBS)
$(FUZZ_C:tests/fuzz/%.c=$B/fuzzers/%): $B/fuzzers/%: $B/tests/fuzz/%.o $(BELOW)
	@mkdir -p $(@D)
	$(call say,$@)
	$Q$(LINK) $(FUZZ_LINK) -o $@ $< $(BELOW) $(LDLIBS)

tests: $(TEST_C:%.c=$B/%)
outside: $(OUTSIDE_C:%.c=$B/%)
season: $B/tests/season/season
replays: $(FUZZ_C:tests/fuzz/%.c=$B/replay/%)
fuzzers: $(FUZZ_C:tests/fuzz/%.c=$B/fuzzers/%)
asan: ## Build program, tests and replays with ASan and UBSan (clang) into build/asan/
	@+$(ASAN) $(if $(CLI_C),$B/asan/dewbell) $(if $(DAEMON_C),$B/asan/dewbelld) tests replays

crash-points: # dewbelld with named places to die at, for tests/service/morning.sh
	@+$(MAKE) --no-print-directory B=$B/crash CFLAGS='-O1 -DDB_CRASH_POINTS' $B/crash/dewbelld

demo: ## The main job on the demo garden, then the service until Ctrl-C
	@+$(MAKE) --no-print-directory deps-demo
	@+$(MAKE) --no-print-directory all
	@sh contrib/demo/run.sh $B

demo-once: ## The same without waiting: fetches each feed once, shows the status, stops
	@+$(MAKE) --no-print-directory deps-demo
	@+$(MAKE) --no-print-directory all
	@sh contrib/demo/run.sh $B once

check: ## Prove it: all tests, sanitizers, valgrind, outside checks, lint
	@+$(MAKE) --no-print-directory deps
	@+MAKE='$(MAKE)' B='$B' CI='$(CI)' SEED='$(SEED)' sh tests/run.sh

accept: tests ## Record what the tests got as what they expect; read the diff
	@ACCEPT=1 sh tests/programs.sh $(TEST_C:%.c=$B/%)

soak: ## What takes long (a quarter of an hour): ten minutes asleep, a hundred kills, fifty thousand fetches, times of guesses
	@+$(MAKE) --no-print-directory deps
	@+MAKE='$(MAKE)' B='$B' sh tests/run.sh soak

bench: ## Measure against bare libical and a Python script
	@+$(MAKE) --no-print-directory deps
	@+$(MAKE) --no-print-directory all $B/tests/bench/bench
	@$B/tests/bench/bench $B/bench rules

calm-year: $B/tests/outside/calm_year ## A year of hourly forecasts: events raised without calm and with it (a minute and a half)
	@B='$B' SEED='$(or $(SEED),1)' sh tests/outside/calm_year.sh year

bench-http: ## Load the service's HTTP with many readers and compare it with nginx
	@+$(MAKE) --no-print-directory deps
	@+$(MAKE) --no-print-directory all
	@B='$B' sh tests/bench/http.sh

fuzz: ## Fuzz each reader for FUZZ_SECONDS (300)
	@+$(MAKE) --no-print-directory deps
	@+$(FUZZ) fuzzers
	@B='$B' FUZZ_SECONDS='$(FUZZ_SECONDS)' sh tests/fuzz/run.sh $(FUZZ_C:tests/fuzz/%.c=%)

# How far clang-tidy walks: tidy, or glance, a sixth of the time, for `make check`.
TIDY ?= tidy
lint: ## Layers, imports, names, format, clang-tidy, cppcheck
	@+MAKE='$(MAKE)' B='$B' CC='$(CC)' PURE='$(PURE)' TIDY='$(TIDY)' sh tests/lint/run.sh

# Analysers keep a stamp a file; it is as old as the object, so that a changed header brings its users back.
TIDY_C = $(filter daemon/%,$(ALL_C))
tidy: $(TIDY_C:%.c=$B/lint/%.tidy)
glance: $(TIDY_C:%.c=$B/lint/%.glance)
SHORT_WALK = $(foreach word,-Xclang -analyzer-config -Xclang mode=shallow,--extra-arg=$(word))
CLANG_TIDY = mkdir -p $(@D) && { clang-tidy-14 --quiet --warnings-as-errors='*' $1 $*.c -- -std=c17 $(CPPFLAGS) -DDB_SHARE='""' \
	>$@.log 2>$@.err || { cat $@.log; exit 1; }; } && touch $@
$B/lint/%.tidy: $B/%.o .clang-tidy
	@$(call CLANG_TIDY)
$B/lint/%.glance: $B/%.o .clang-tidy
	@$(call CLANG_TIDY,$(SHORT_WALK))
cppcheck: $(ALL_C:%.c=$B/lint/%.cppcheck)
$B/lint/%.cppcheck: $B/%.o tests/lint/cppcheck.suppress
	@mkdir -p $(@D)
	@cppcheck --quiet --std=c11 --enable=warning,style,performance,portability --inline-suppr --error-exitcode=1 \
		--suppressions-list=tests/lint/cppcheck.suppress --library=posix -Iinclude -Idaemon -D_GNU_SOURCE \
		-DDB_VERSION='""' -DDB_SHARE='""' $*.c
	@touch $@

format: ## Lay out all C files by .clang-format
	clang-format-14 -i $(sort $(shell find daemon include tests -name '*.[ch]'))

# The folders that are ours alone; what an older version left in them goes.
OWN_FOLDERS = $(DESTDIR)$(prefix)/include/dewbell $(DESTDIR)$(prefix)/share/dewbell $(DESTDIR)$(prefix)/share/doc/dewbell

install: all ## Install under prefix (/usr/local), into DESTDIR if given
	rm -rf $(OWN_FOLDERS)
	install -d $(DESTDIR)$(prefix)/bin $(DESTDIR)$(prefix)/lib/pkgconfig $(DESTDIR)$(prefix)/include/dewbell \
		$(DESTDIR)$(prefix)/share/dewbell/rules $(DESTDIR)$(prefix)/share/doc/dewbell
	install -m 755 $B/dewbell $(if $(DAEMON_C),$B/dewbelld) $(DESTDIR)$(prefix)/bin/
	install -m 644 $B/libdewbell.a $(DESTDIR)$(prefix)/lib/
	install -m 644 include/dewbell/*.h $(DESTDIR)$(prefix)/include/dewbell/
	sed 's|@prefix@|$(prefix)|; s|@version@|$(VERSION)|' contrib/dewbell.pc.in >$(DESTDIR)$(prefix)/lib/pkgconfig/dewbell.pc
	chmod 644 $(DESTDIR)$(prefix)/lib/pkgconfig/dewbell.pc
	cd rules && find . -name '*.ini' -exec install -D -m 644 {} $(abspath $(DESTDIR)$(prefix))/share/dewbell/rules/{} \;
	install -m 644 README.md LICENSE docs/*.md $(DESTDIR)$(prefix)/share/doc/dewbell/
	for page in docs/*.[1-8]; do \
		install -D -m 644 $$page $(DESTDIR)$(prefix)/share/man/man$${page##*.}/$${page#docs/} || exit 1; done
	install -D -m 644 contrib/completion/dewbell.bash $(DESTDIR)$(prefix)/share/bash-completion/completions/dewbell
	ln -sf dewbell $(DESTDIR)$(prefix)/share/bash-completion/completions/dewbelld
	install -D -m 644 -t $(DESTDIR)$(prefix)/share/doc/dewbell/proxy contrib/proxy/*
	install -D -m 644 -t $(DESTDIR)$(prefix)/share/doc/dewbell/openrc contrib/openrc/*

install-systemd: install ## The same, and the units, under lib/systemd/system
	install -d $(DESTDIR)$(prefix)/lib/systemd/system
	for unit in contrib/systemd/*; do \
		sed 's|/usr/bin/|$(prefix)/bin/|' $$unit >$(DESTDIR)$(prefix)/lib/systemd/system/$${unit##*/} || exit 1; \
		chmod 644 $(DESTDIR)$(prefix)/lib/systemd/system/$${unit##*/} || exit 1; done

install-openrc: install ## The same, and the script and its settings, under /etc
	install -d $(DESTDIR)/etc/init.d $(DESTDIR)/etc/conf.d
	sed 's|/usr/bin/|$(prefix)/bin/|' contrib/openrc/dewbelld >$(DESTDIR)/etc/init.d/dewbelld
	chmod 755 $(DESTDIR)/etc/init.d/dewbelld
	test -e $(DESTDIR)/etc/conf.d/dewbelld || install -m 644 contrib/openrc/dewbelld.conf $(DESTDIR)/etc/conf.d/dewbelld

uninstall: ## Take away what these put there; gardens, settings and what the service keeps stay
	rm -rf $(OWN_FOLDERS)
	rm -f $(addprefix $(DESTDIR)$(prefix)/,bin/dewbell bin/dewbelld lib/libdewbell.a lib/pkgconfig/dewbell.pc \
		share/bash-completion/completions/dewbell share/bash-completion/completions/dewbelld \
		$(foreach page,$(notdir $(wildcard docs/*.[1-8])),share/man/man$(patsubst .%,%,$(suffix $(page)))/$(page)) \
		$(addprefix lib/systemd/system/,$(notdir $(wildcard contrib/systemd/*))))
	rm -f $(DESTDIR)/etc/init.d/dewbelld

deps: ## Install the Debian packages that are missing
	@sh tests/deps.sh $(BUILD_PACKAGES) $(TEST_PACKAGES)
deps-build:
	@sh tests/deps.sh $(BUILD_PACKAGES)
deps-demo:
	@sh tests/deps.sh $(BUILD_PACKAGES) $(DEMO_PACKAGES)

clean: ## Remove what was built
	rm -rf $B

help: ## This list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "make %-15s %s\n", $$1, $$2 }' Makefile

-include $(wildcard $(ALL_C:%.c=$B/%.d))

.PHONY: calm-year all tests outside season replays fuzzers asan demo demo-once check accept bench bench-http fuzz lint tidy glance cppcheck format install install-systemd install-openrc uninstall deps deps-build deps-demo \
	clean help FORCE
.SECONDARY:
.DELETE_ON_ERROR:
