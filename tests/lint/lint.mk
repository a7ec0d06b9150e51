# make lint: format, mistakes, direction of includes, sizes. Each part can be run by itself.
LINT_C := $(wildcard src/*.c src/*/*.c src/*/*/*.c)
LINT_H := $(wildcard src/*/*.h src/*/*/*.h)
LINT_T := $(wildcard tests/*/*.[ch])

lint: lint-top lint-format lint-layers lint-headers lint-sizes lint-links lint-circles lint-tidy
	@echo "lint: clean"

lint-format:
	$(call say,LINT,format)
	$(Q)clang-format --dry-run -Werror $(LINT_C) $(LINT_H) $(LINT_T)

lint-layers:
	$(call say,LINT,layers)
	$(Q)sh tests/lint/layers src

# What stands at the top, and nothing else: a build directory of another name is soon committed.
TOP = DEVELOPERS.md LICENSE Makefile README.md configs docs src tests themes
lint-top:
	@{ git ls-files 2>/dev/null || ls -d -- * | grep -vx 'build\|node_modules'; } | sed 's|/.*||' | \
		grep -v '^\.' | LC_ALL=C sort -u | tr '\n' ' ' | grep -qx '$(sort $(TOP)) ' || \
		{ echo 'at the top belong only $(TOP)'; exit 1; }

# Who calls whom, by what the objects define and need: no circles, no call to a higher layer. A table
# of modules needs every module, so that one which needed the table's file would be a circle.
lint-circles: $(BUILD)/stokehold
	$(call say,LINT,circles)
	$(Q)sh tests/lint/circles $(BUILD)

lint-sizes:
	$(call say,LINT,sizes)
	$(Q)sh tests/lint/sizes src

lint-links:
	$(call say,LINT,links)
	$(Q)sh tests/lint/links

# Each header compiles alone.
lint-headers:
	$(call say,LINT,headers)
	$(Q)for h in $(LINT_H); do \
	    echo "#include \"$${h#src/}\"" | $(CC) $(filter-out -MMD -MP,$(ALL_CFLAGS)) -Werror -Wno-pedantic -fsyntax-only -x c - || exit 1; done

lint-tidy: $(BUILD)/gen/configs/stokehold.conf.inc $(THEMES:%=$(BUILD)/gen/%.inc)
	$(call say,LINT,clang-tidy)
	$(Q)printf '%s\n' $(LINT_C) | xargs -P 2 -n 8 sh -c \
	    'clang-tidy --quiet "$$@" -- -std=c17 -D_GNU_SOURCE -DSTOKEHOLD_VERSION="\"\"" -Isrc -I$(BUILD)/gen 2>$(BUILD)/tidy.$$$$ || { cat $(BUILD)/tidy.$$$$; exit 1; }' sh
	$(Q)rm -f $(BUILD)/tidy.*

.PHONY: lint lint-top lint-links lint-format lint-layers lint-headers lint-sizes lint-circles lint-tidy
