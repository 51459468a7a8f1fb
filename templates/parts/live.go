package parts

import (
	"context"

	"github.com/a-h/templ"
)

// Live marks an element in which the page's script says how fresh the page is,
// in the time of the zone, with the sentences for it.
func Live(ctx context.Context, zone string) templ.Attributes {
	return templ.Attributes{
		"data-live":        zone,
		"data-say-deaf":    T(ctx, "Not live since the page opened"),
		"data-say-silent":  T(ctx, "Not live since {time}"),
		"data-say-changed": T(ctx, "Live, last change {time}"),
		"data-say-same":    T(ctx, "Live, no change yet"),
	}
}
