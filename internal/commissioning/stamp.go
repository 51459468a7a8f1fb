package commissioning

import "time"

// clockAgrees is how far two measurements of one clock may lie apart, beside
// what the way there and back leaves open. Common practice, no source.
const clockAgrees = 2 * time.Second

// Offset is how far a tablet's clock is off, as the tablet measured it.
type Offset struct {
	MS  int64     // server's clock minus the tablet's
	RTT int64     // milliseconds of the way there and back; the offset is good to half of it
	At  time.Time // by the tablet's clock
}

// Stamp is what a tablet knew of the time when it wrote an entry.
type Stamp struct {
	Device time.Time // by the tablet's clock
	Offset *Offset   // measured before, nil when the tablet had never reached the server
	Turned bool      // the clock was turned since
}

// Corrected is the instant by the server's clock, and what stays on the record
// about it. sending is the offset measured when the entry was sent: only if the
// tablet's clock was as far off then as before, nobody turned it in between, and
// the instant is proven.
//
// An instant that is not proven lies between the opening of the run and now.
func (s Stamp) Corrected(sending *Offset, opened, now time.Time) (time.Time, Clock) {
	clock := Clock{Raw: s.Device.UTC().Format("2006-01-02T15:04:05.000Z07:00")}
	at, proven := s.Device, false
	if s.Offset != nil {
		at = at.Add(time.Duration(s.Offset.MS) * time.Millisecond)
		clock.OffsetMS, clock.ErrorMS = &s.Offset.MS, new((s.Offset.RTT+1)/2)
		proven = !s.Turned && sending != nil && s.Offset.agrees(*sending) && !s.Device.Before(s.Offset.At) && !at.After(now.Add(clockAgrees))
	}
	switch {
	case at.After(now):
		at = now
	case !proven && at.Before(opened):
		at = opened
	}
	clock.Proven = &proven
	return at, clock
}

func (o Offset) agrees(other Offset) bool {
	apart := time.Duration(o.MS-other.MS) * time.Millisecond
	return apart.Abs() <= clockAgrees+time.Duration(o.RTT+other.RTT)*time.Millisecond/2
}
