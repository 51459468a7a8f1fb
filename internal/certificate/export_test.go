package certificate

// Printable is what the tests ask of one text.
var Printable = printable
