package urls

import "net/url"

// TagsPattern is the sheet of tags to print: for units, or for a lot of a fluid.
const TagsPattern = "/tags"

// FluidTags is the sheet with the fluid chosen.
func FluidTags(fluid string) string { return TagsPattern + "?fluid=" + url.QueryEscape(fluid) }

// UnitTag is what the tag of a unit says to a camera: the unit's page, where
// the site's own address is known, so that any phone finds its certificate.
func UnitTag(site, tag string) string {
	if site == "" {
		return "settlemark:unit/" + url.PathEscape(tag)
	}
	return site + "/units/" + url.PathEscape(tag)
}

// LotTag is what the tag of a container says to a camera.
func LotTag(fluid, lot, expires string) string {
	return "settlemark:fluid/" + url.PathEscape(fluid) + "/" + url.PathEscape(lot) + "/" + expires
}
