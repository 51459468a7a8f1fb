package handlers

import "net/http"

// Clock tells a tablet the time, so that it can measure how far its own is off.
func (s *Screens) Clock(w http.ResponseWriter, _ *http.Request) error {
	return writeJSON(w, http.StatusOK, map[string]int64{"now": s.Now().UnixMilli()})
}
