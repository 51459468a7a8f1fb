package commissioning_test

import (
	"testing"
	"time"

	"settlemark/internal/commissioning"
)

func TestStamp(t *testing.T) {
	opened := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	now := opened.Add(3 * time.Hour)
	// What is true is nine o'clock; the tablet's clock is off by so much.
	nine := opened.Add(time.Hour)
	stamp := func(fast time.Duration, offset *commissioning.Offset) commissioning.Stamp {
		return commissioning.Stamp{Device: nine.Add(fast), Offset: offset}
	}
	off := func(fast time.Duration, rtt int64) *commissioning.Offset {
		return &commissioning.Offset{MS: -fast.Milliseconds(), RTT: rtt, At: opened.Add(fast)}
	}
	day := 24 * time.Hour
	for _, c := range []struct {
		name            string
		stamp           commissioning.Stamp
		sending         *commissioning.Offset
		want            time.Time
		proven          bool
		offset, errorMS int64
	}{
		{"a right clock is proven", stamp(0, off(0, 4)), off(0, 4), nine, true, 0, 2},
		{"a clock a day fast is corrected and proven", stamp(day, off(day, 9)), off(day, 9), nine, true, -86_400_000, 5},
		{"a clock an hour slow too", stamp(-time.Hour, off(-time.Hour, 4)), off(-time.Hour, 4), nine, true, 3_600_000, 2},
		{"a long way leaves room: 4.5 s apart, 6 s there and back both times", stamp(0, off(0, 6000)), off(-4500*time.Millisecond, 6000), nine, true, 0, 3000},
		{"a clock that was turned before the entry was sent is not proven", stamp(-time.Hour, off(0, 4)), off(-time.Hour, 4), opened, false, 0, 2},
		{"a clock that was never measured is not", stamp(time.Minute, nil), off(time.Minute, 4), nine.Add(time.Minute), false, 0, 0},
		{"a tablet that does not say how its clock is now is not", stamp(0, off(0, 4)), nil, nine, false, 0, 2},
		{"an instant before the measurement is not", commissioning.Stamp{Device: opened.Add(-time.Second), Offset: off(0, 4)}, off(0, 4), opened, false, 0, 2},
		{"nor is one of a clock that was turned and turned back", commissioning.Stamp{Device: nine, Offset: off(0, 4), Turned: true}, off(0, 4), nine, false, 0, 2},
		{"an instant to come becomes now", stamp(day, nil), off(day, 4), now, false, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			at, clock := c.stamp.Corrected(c.sending, opened, now)
			if !at.Equal(c.want) || *clock.Proven != c.proven {
				t.Errorf("%s, proven %v; want %s, %v", at, *clock.Proven, c.want, c.proven)
			}
			if c.stamp.Offset == nil {
				if clock.OffsetMS != nil || clock.ErrorMS != nil {
					t.Error("an offset out of nothing")
				}
			} else if *clock.OffsetMS != c.offset || *clock.ErrorMS != c.errorMS {
				t.Errorf("offset %d ± %d", *clock.OffsetMS, *clock.ErrorMS)
			}
			if raw, err := time.Parse(time.RFC3339Nano, clock.Raw); err != nil || !raw.Equal(c.stamp.Device) {
				t.Errorf("the tablet's own time is kept as %q", clock.Raw)
			}
		})
	}
}
