package fsck

import "iter"

// ahead reads rows one ahead of what is done with them, so that several streams
// can go side by side. Who is done with it calls stop.
type ahead[T any] struct {
	row  T
	more bool // there is a row
	err  error

	next func() (T, error, bool)
	stop func()
}

func lookAhead[T any](rows iter.Seq2[T, error]) *ahead[T] {
	a := &ahead[T]{}
	a.next, a.stop = iter.Pull2(rows)
	a.advance()
	return a
}

func (a *ahead[T]) advance() {
	a.row, a.err, a.more = a.next()
	a.more = a.more && a.err == nil
}
