package session

import (
	"encoding/json"
	"time"
)

// codec writes a session as JSON, so that the database can find the sessions
// of one person. Only texts are kept.
type codec struct{}

type encoded struct {
	Deadline time.Time      `json:"deadline"`
	Values   map[string]any `json:"values"`
}

func (codec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	return json.Marshal(encoded{deadline, values})
}

func (codec) Decode(data []byte) (time.Time, map[string]any, error) {
	var e encoded
	err := json.Unmarshal(data, &e)
	return e.Deadline, e.Values, err
}
