# make demo   make an evening bulletin and copy it
# make practice  open the desk on the practice band: turn its receiver in the browser
# make test   everything that must hold
# make fuzz     damaged bytes into everything that reads, FOR seconds each
# make long-tries  programs of the long tries, for a computer with many processors, in target/trustbin
# make notices  the licences of everything that is built in, anew
# make reference  docs/reference.md from the program's definitions, anew
# make site   the manual as pages for a server of any kind, in target/site
# make pictures  all pictures of README and the manual, anew
# make model  the models of language anew, held to what is committed; make fits  the fitted constants;
#               make try-fits  whether one thread and two fit the same, in two minutes
# make ready  what is left to do before a release
# make install  puts the program where it is found; PREFIX=/usr/local; make uninstall
# make package  a Debian package; make try-package tries it in a clean root, make try-source the way by source

MARKHOLD = target/release/markhold

# What is built once and thrown away needs no notes for building it again.
ifdef CI
export CARGO_INCREMENTAL = 0
endif

.PHONY: release demo practice test fuzz long-tries notices reference site pictures model fits try-fits ready install uninstall package try-package try-source prepare prepare-checks lint

release: prepare
	cargo build --quiet --release -p markhold

# An invented bulletin on a fading, drifting path with static, then copied. On a terminal
# doubtful characters are dim and underlined, elsewhere they stand between [ and ].
demo: release
	@mkdir -p demo/out
	@$(MARKHOLD) air --file demo/bulletin.txt --out demo/out/evening.wav \
	    --begin 2026-03-21T19:30:00Z --seed 4 --lead 5 --passband 300,2700 --agc \
	    --paths mid-latitude-moderate --es-n0 17 --crashes 0.3 --warm-up=-25Hz,90s
	@echo
	@$(MARKHOLD) copy --doubt marked demo/out/evening.wav 2> demo/out/found.txt; \
	    code=$$?; echo; cat demo/out/found.txt; exit $$code

# The desk on an invented band, with a receiver whose dial is turned in the page.
practice: release
	@$(MARKHOLD) --practice

test: prepare-checks
	@tools/tested

FOR ?= 60
fuzz: prepare
	cargo run --quiet --release -p markhold-fuzz -- $(FOR)

# What docs/reliability.md promises, tried at length: there, without Rust or a network,
# `python3 long_tries.py run 9` takes nine minutes and prints one table.
long-tries: prepare
	@python3 tools/long_tries.py build target/trustbin

notices:
	@python3 checks/supply.py > NOTICES.new && mv NOTICES.new NOTICES.txt

reference: release
	@made=$$(mktemp -d) && $(MARKHOLD) manual $$made && mv $$made/reference.md docs/ && rm -r $$made

site: release
	@made=$$(mktemp -d) && $(MARKHOLD) manual $$made && rm -rf target/site && mv $$made/site target/ && rm -r $$made
	@echo target/site/manual/index.html

pictures: release
	@tools/pictures $(MARKHOLD)

model: prepare
	@tools/model

fits: prepare
	@tools/fits

try-fits: prepare
	@tools/fits twice

ready:
	@tools/ready

# Not after a build of its own: whoever may write to PREFIX need not be who builds.
PREFIX ?= /usr/local
install uninstall:
	@PREFIX=$(PREFIX) DESTDIR=$(DESTDIR) tools/place $@

package: release
	@tools/package

try-package: package
	@tools/try_package

try-source:
	@tools/try_source

prepare:
	@tools/prepare

prepare-checks:
	@tools/prepare checks

# A machine may have Rust without these two.
lint:
	@if cargo fmt --version > /dev/null 2>&1; then cargo fmt --all --check; fi
	@if cargo clippy --version > /dev/null 2>&1; then \
	    cargo clippy --quiet --workspace --all-targets -- --deny warnings; fi
