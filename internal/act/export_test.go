package act

// OnSigned lets a test see every checkpoint that was ever signed, also those
// that were lost afterwards.
func (a *Acts) OnSigned(see func(checkpoint []byte)) { a.onSigned = see }
