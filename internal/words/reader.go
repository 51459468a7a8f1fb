package words

import "context"

// Reader is how somebody reads pages.
type Reader struct {
	Language Language
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
