package certificate

// Printable is what the tests ask of one text.
var Printable = printable

// DrawWith draws one document and attaches the record of another, as nobody
// would who means well.
func DrawWith(doc Document, photos map[string][]byte, record, proof []byte) ([]byte, error) {
	prints, err := scalePictures(doc, photos)
	if err != nil {
		return nil, err
	}
	return drawDocument(doc, record, prints, proof)
}

// Scaled is a photo made smaller, as it goes into the file.
var Scaled = scaled
