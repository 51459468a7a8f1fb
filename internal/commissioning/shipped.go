package commissioning

import (
	"embed"
	"io/fs"
	"path"
)

//go:embed procedures/*.yaml
var procedures embed.FS

// BlankProcedure is the text with which a new procedure begins.
//
//go:embed blank.yaml
var BlankProcedure string

// ShippedProcedures gives the YAML of the procedures that come with the
// program, by key, in the order of their keys. They are drafts: each needs its
// approval at the site like any other revision.
func ShippedProcedures() ([][]byte, error) {
	names, err := fs.Glob(procedures, path.Join("procedures", "*.yaml"))
	if err != nil {
		return nil, err
	}
	var all [][]byte
	for _, name := range names {
		yaml, err := procedures.ReadFile(name)
		if err != nil {
			return nil, err
		}
		all = append(all, yaml)
	}
	return all, nil
}
