package words

import "context"

// Reader is how somebody reads pages.
type Reader struct {
	Language Language
	Units    string // the set of local units that stand beside those of records
}

type readerKey struct{}

// For keeps the reader in the context of what is rendered for them.
func For(ctx context.Context, r Reader) context.Context {
	return context.WithValue(ctx, readerKey{}, r)
}

// ReaderOf gives the reader of what is rendered; one who reads English where
// nobody said.
func ReaderOf(ctx context.Context) Reader {
	if r, ok := ctx.Value(readerKey{}).(Reader); ok {
		return r
	}
	return Reader{Language: English}
}

// Key is the same for all who read alike.
func (r Reader) Key() string { return string(r.Language) + " " + r.Units }
