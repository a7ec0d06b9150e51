# A muster that writes its page and a starting configuration. Read by sweep.sh.
. "$here/papers.sh"
write=(muster --utc --json --html run/page.html --write-config run/boat.conf trip.log)
