package words

import "time"

// Lasting says how long something takes or took, exact to the second: "45 s",
// "9 min", "36 min 20 s", and from more than two hours on "3 h 5 min". Whoever
// says less than that rounds first: what is still to come up, with UpToMinute,
// what is proven down, with DownToMinute.
func Lasting(d time.Duration) Text {
	d = d.Round(time.Second)
	h, m, s := 0, int(d/time.Minute), int(d/time.Second)%60
	if d > 2*time.Hour {
		h, m = m/60, m%60
	}
	switch {
	case h == 0 && m == 0:
		return Say("%d s", s)
	case h == 0 && s == 0:
		return Say("%d min", m)
	case h == 0:
		return Say("%d min %d s", m, s)
	case s == 0:
		return Say("%d h %d min", h, m)
	}
	return Say("%d h %d min %d s", h, m, s)
}

// UpToMinute rounds up to whole minutes, below a minute to whole seconds.
func UpToMinute(d time.Duration) time.Duration {
	part := unit(d)
	return (d + part - 1) / part * part
}

// DownToMinute rounds down to whole minutes, below a minute to whole seconds.
func DownToMinute(d time.Duration) time.Duration { return d / unit(d) * unit(d) }

func unit(d time.Duration) time.Duration {
	if d < time.Minute {
		return time.Second
	}
	return time.Minute
}
