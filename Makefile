# dewbell. `make demo` runs the main job on the demo garden, `make check` proves it; both install what is missing.
# `make help` lists the rest.

VERSION  = 0.1.0
prefix   = /usr/local
DESTDIR  =
CC       = gcc
B        = build

# Debian packages: to build, to test, to look after the code. One list; tests/deps.sh installs what is missing.
BUILD_PACKAGES = gcc make pkg-config libc6-dev libical-dev libinih-dev libjson-c-dev libsqlite3-dev uuid-dev \
	libxxhash-dev libssl-dev tzdata
TEST_PACKAGES  = libcmocka-dev valgrind python3 python3-icalendar python3-ephem nodejs clang-format clang-tidy cppcheck \
	clang libclang-rt-14-dev binutils

LIBS     = libical inih json-c sqlite3 uuid libxxhash libcrypto
CFLAGS   = -O2 -g
WARN     = -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes $(if $(CI),-Werror)
CPPFLAGS = -Iinclude -Idaemon -D_GNU_SOURCE -DDB_VERSION='"$(VERSION)"' -DDB_SHARE='"$(prefix)/share/dewbell"' \
	$(shell pkg-config --cflags $(LIBS) 2>/dev/null)
LDLIBS   = $(shell pkg-config --libs $(LIBS) 2>/dev/null) -lm
DEP      = -MMD -MP
COMPILE  = $(CC) -std=c17 $(CPPFLAGS) $(CFLAGS) $(WARN) $(DEP)

PURE     = base calc model rules engine
ENGINE_C = $(sort $(wildcard $(PURE:%=daemon/%/*.c)))
IO_C     = $(sort $(wildcard daemon/read/*.c daemon/write/*.c daemon/record/*.c))
CLI_C    = $(sort $(wildcard daemon/cli/*.c))
ENGINE_O = $(ENGINE_C:%.c=$B/%.o)
IO_O     = $(IO_C:%.c=$B/%.o)
CLI_O    = $(CLI_C:%.c=$B/%.o)

all: $B/libdewbell.a $B/dewbell

$B/libdewbell.a: $(ENGINE_O)
	@rm -f $@
	$(AR) rcs $@ $(ENGINE_O)

$B/dewbell: $(CLI_O) $(IO_O) $B/libdewbell.a
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $(CLI_O) $(IO_O) $B/libdewbell.a $(LDLIBS)

$B/%.o: %.c
	@mkdir -p $(@D)
	$(COMPILE) -c -o $@ $<

# Unit and property tests: one program a file, each with the whole engine and the readers and writers.
TEST_C   = $(sort $(wildcard tests/unit/*.c tests/property/*.c))
TEST_X   = $(TEST_C:%.c=$B/%)
$(TEST_X): $B/%: $B/%.o $(IO_O) $B/libdewbell.a
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(IO_O) $B/libdewbell.a $(LDLIBS) -lcmocka
tests: $(TEST_X)

-include $(shell find $B -name '*.d' 2>/dev/null)

clean:
	rm -rf $B

.PHONY: all tests clean
.SECONDARY:
