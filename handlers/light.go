package handlers

import (
	"net/http"

	"settlemark/internal/urls"
	"settlemark/web/respond"
)

const lightCookie = "light"

// light gives the light that this browser asked for: "glare" or "".
func light(r *http.Request) string {
	if c, err := r.Cookie(lightCookie); err == nil && c.Value == "glare" {
		return "glare"
	}
	return ""
}

// SwitchLight turns glare on or off and goes back to the page.
func (s *Screens) SwitchLight(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "light", "back")
	if err != nil {
		return err
	}
	c := &http.Cookie{Name: lightCookie, Path: "/", Secure: true, HttpOnly: true, SameSite: http.SameSiteLaxMode, MaxAge: -1}
	if form.Get("light") == "glare" {
		c.Value, c.MaxAge = "glare", 400*24*60*60
	}
	http.SetCookie(w, c)
	return respond.Redirect(w, r, urls.Local(form.Get("back")))
}
