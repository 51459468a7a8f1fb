package act

import "golang.org/x/mod/sumdb/note"

// SignReport signs a text that is no checkpoint with the log's key, so that
// whoever has the policy can tell where it comes from; nil when this machine
// does not hold the key.
func (l Log) SignReport(text string) ([]byte, error) {
	keys, err := readLogKeys(l.Key)
	if err != nil || keys == nil {
		return nil, err
	}
	signers := make([]note.Signer, len(keys))
	for i, k := range keys {
		signers[i] = k.signer
	}
	return note.Sign(&note.Note{Text: text}, signers...)
}
