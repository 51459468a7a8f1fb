#!/bin/sh
# Breaks ten sentences of the rules, one after the other, in a copy of the code,
# and prints which tests fell. Fails when a break is noticed by no test.
set -eu
cd "$(dirname "$0")/../.."
copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT
mkdir -p "$copy/internal" "$copy/cmd"
cp go.mod go.sum "$copy"
cp -R internal/measure internal/commissioning internal/problem internal/rules "$copy/internal"
cp -R cmd/settlemark "$copy/cmd"
cd "$copy"
unnoticed=0

# breaks FILE OLD NEW SENTENCE: OLD must stand in FILE; both are plain text.
breaks() {
	cp "internal/$1" kept
	if ! OLD=$2 NEW=$3 perl -0pi -e 's/\Q$ENV{OLD}\E/$ENV{NEW}/ or die "nothing to break\n"' "internal/$1"; then
		echo "cannot break: $4"
		exit 1
	fi
	echo "broken: $4"
	fallen=$(go test ./internal/measure ./internal/commissioning ./internal/rules 2>&1 | sed -n 's/^ *--- FAIL: \([^ ]*\).*/  fell: \1/p')
	if [ -z "$fallen" ]; then
		fallen="  NO TEST FELL"
		unnoticed=1
	fi
	echo "$fallen"
	mv kept "internal/$1"
}

breaks rules/record.go 'body.ObservedAt.After(r.at)' 'body.ObservedAt.After(never)' \
	'entries from after the instant of judgement are left out'
breaks rules/record.go ' || e.Kind == commissioning.KindCorrection && r.late[e.Strikes]' '' \
	'a replacement inherits the lateness of what it replaces'
breaks rules/coverage.go 'b.at().Sub(a.at()) <= maxGap' 'b.at().Sub(a.at()) < maxGap' \
	'a gap equal to max_gap is linked'
breaks rules/hold.go 'h.r.at.Sub(newest.at()) > within' 'h.r.at.Sub(newest.at()) >= within' \
	'a reading as old as fresh_within is fresh'
breaks rules/viscosity.go '< gate.SpacingAtLeast.D' '<= gate.SpacingAtLeast.D' \
	'checks may lie exactly the spacing apart'
breaks measure/tolerance.go 'value.Cmp(l.Upper) <= 0' 'value.Cmp(l.Upper) < 0' \
	'both limits are in'
breaks rules/fluids.go 'e.Expires < day' 'e.Expires <= day' \
	'the printed day of expiry still counts'
breaks rules/fluids.go 'if b.volume.Cmp(b.limit) > 0 {' 'if b.volume.Cmp(b.limit) >= 0 {' \
	'a waste container may be filled to its limit'
breaks rules/steps.go 'place.ObservedAt.Before(compare.ObservedAt)' '!place.ObservedAt.After(compare.ObservedAt)' \
	'equal instants are never out of order'
breaks rules/faults.go 'happened[e.Fault] <= allowed[e.Fault]' 'happened[e.Fault] < allowed[e.Fault]' \
	'a fault may occur at_most times'
exit $unnoticed
