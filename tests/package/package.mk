# make deb: the Debian package, into $(BUILD)/deb; DEB_ARCH=arm64 or armhf for another processor.
# make test-package: installed, started, fed, upgraded, removed and purged where it harms nobody.
DEB_ARCH ?=
deb: docs/stokehold.1
	$(Q)tests/tools/deps build package $(filter arm64 armhf,$(DEB_ARCH))
	$(Q)mkdir -p $(BUILD)/deb
	$(Q)tests/package/build.sh $(VERSION) $(BUILD)/deb $(DEB_ARCH)

.PHONY: deb

test-package: deb
	$(Q)tests/tools/deps can debian
	$(Q)lintian --allow-root --fail-on error,warning $(BUILD)/deb/stokehold_$(VERSION)_$$(dpkg --print-architecture).deb
	$(Q)mkdir -p $(BUILD)/package
	$(Q)tests/package/test.sh $(BUILD)/deb/stokehold_$(VERSION)_$$(dpkg --print-architecture).deb $(BUILD)/package

# The packages of the small computers.
deb-arm:
	$(Q)$(MAKE) --no-print-directory deb DEB_ARCH=arm64
	$(Q)$(MAKE) --no-print-directory deb DEB_ARCH=armhf

# A real collector, as docs/fleet.md has it.
test-fleet: $(BUILD)/stokehold
	$(Q)tests/tools/deps fleet
	$(Q)tests/package/fleet.sh $(BUILD)/stokehold $(BUILD)/fleet

.PHONY: test-package deb-arm test-fleet
