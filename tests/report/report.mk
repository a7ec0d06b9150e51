# make pages: pictures of the three printed pages for the documents, from the demo's trips, as a
# browser prints them on A4. Needs chromium and poppler-utils (tests/tools/deps pages).
PAGES := $(BUILD)/pages
$(PAGES)/trial.log: $(BUILD)/stokehold
	@mkdir -p $(@D)
	$(Q)$< drill --trip trial --seed 3 -o $@
$(PAGES)/trip.log: $(BUILD)/stokehold
	@mkdir -p $(@D)
	$(Q)$< drill --fault impeller --at +06:00 --minutes 14 --seed 3 -o $@
$(PAGES)/trial.html: $(PAGES)/trial.log tests/report/particulars.txt
	$(Q)cd $(PAGES) && $(abspath $(BUILD)/stokehold) trial --utc --html trial.html \
	    --particulars $(abspath tests/report/particulars.txt) trial.log >/dev/null
$(PAGES)/incident.html: $(PAGES)/trip.log tests/report/marks.txt
	$(Q)cp tests/report/marks.txt $(PAGES)/trip.log.marks
	$(Q)cd $(PAGES) && $(abspath $(BUILD)/stokehold) sift --utc --html incident.html trip.log >/dev/null
# one finding is left to be looked into: its exit status is 1
$(PAGES)/muster.html: $(PAGES)/trip.log tests/report/particulars.txt
	$(Q)cd $(PAGES) && { $(abspath $(BUILD)/stokehold) muster --utc --html muster.html --particulars $(abspath tests/report/particulars.txt) trip.log >/dev/null || [ $$? = 1 ]; }
docs/screens/page-%.png: $(PAGES)/%.html
	$(call say,PRINT,$@)
	$(Q)chromium --headless --no-sandbox --disable-gpu --no-pdf-header-footer \
	    --print-to-pdf=$(PAGES)/$*.pdf file://$(abspath $<) 2>/dev/null
	$(Q)pdftoppm -r 80 -png -f $(if $(filter trial,$*),2,1) -l $(if $(filter trial,$*),2,1) -singlefile $(PAGES)/$*.pdf $(basename $@)
pages:
	$(Q)tests/tools/deps build pages
	$(Q)$(MAKE) --no-print-directory docs/screens/page-trial.png docs/screens/page-muster.png docs/screens/page-incident.png
.PHONY: pages
