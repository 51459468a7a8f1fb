package certificate

// Contents is what a certificate file carries.
type Contents struct {
	Number     string
	Logbook    []byte // logbook.json, byte for byte
	Assessment []byte // assessment.json, byte for byte
}

// Read takes the evidence out of a file that Render made, and refuses any other.
func Read(pdf []byte) (Contents, error) { return Contents{}, nil }
