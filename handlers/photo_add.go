package handlers

import (
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/templates"
	"settlemark/web/session"
)

const mostPhoto = 12 << 20

var photoFields = []string{"id", "form", "step", "note"}

// AddPhoto stores a photo and the entry that names it.
func (s *Screens) AddPhoto(w http.ResponseWriter, r *http.Request) error {
	form, photo, err := decodePhoto(r)
	if form == nil {
		return err
	}
	v, viewErr := s.runView(r)
	if viewErr != nil {
		return viewErr
	}
	var recorded act.Recorded
	if err == nil {
		recorded, err = s.addPhoto(r, form, photo, v)
	}
	if err == nil {
		return s.recordedPage(w, r, form.Get("form"), recorded)
	}
	return s.askAgain(w, r, v, templates.Typed{Form: form.Get("form"), Values: form, Err: err}, err)
}

func (s *Screens) addPhoto(r *http.Request, form url.Values, photo []byte, v templates.RunView) (act.Recorded, error) {
	e, err := photoEntry(form, v)
	if err != nil {
		return act.Recorded{}, err
	}
	if err := v.Run.Accepts(e, *v.Viewer); err != nil {
		return act.Recorded{}, err
	}
	stored, err := s.Acts.StorePhoto(r.Context(), *v.Viewer, v.Run.ID, photo, v.Now)
	if err != nil {
		return act.Recorded{}, err
	}
	e.SHA256, e.MediaType = stored.SHA256, stored.MediaType
	by := act.Author{Person: *v.Viewer, Device: session.Device(r), Form: true}
	return s.Acts.Record(r.Context(), by, v.Run.ID, []commissioning.Entry{e}, v.Now)
}

// photoEntry is the entry of a photo, which lacks yet what the photo is.
func photoEntry(form url.Values, v templates.RunView) (commissioning.Entry, error) {
	e := commissioning.Entry{
		Kind: commissioning.KindPhoto, ID: form.Get("id"), Step: form.Get("step"), Via: "typed",
		ObservedAt: v.Now, CapturedAt: &v.Now, Note: form.Get("note"),
	}
	if e.Step != "" && v.Step(e.Step) == nil {
		return e, problem.New(problem.Invalid, "This procedure has no line %q. Reload the page and answer it there.", e.Step)
	}
	return e, nil
}

// decodePhoto reads the fields, which stand before the photo, and then the
// photo. One that is too large is read to its end and thrown away, so that the
// browser hears the answer. form is nil when nothing can be shown again.
func decodePhoto(r *http.Request) (form url.Values, photo []byte, err error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, nil, problem.New(problem.Invalid, "This form can't be read. Reload the page and send the photo again.")
	}
	form = url.Values{}
	for {
		part, err := parts.NextPart()
		if err == io.EOF { //nolint:errorlint // the reader gives EOF itself
			break
		}
		if err != nil {
			return nil, nil, tooLargeOrBroken(err)
		}
		if part.FormName() == "photo" {
			if photo, err = readPhoto(part); err != nil {
				return form, nil, err
			}
			continue
		}
		if !slices.Contains(photoFields, part.FormName()) {
			return nil, nil, problem.New(problem.Invalid, "This form does not have a field %q. Reload the page and send it again.", part.FormName())
		}
		text, err := io.ReadAll(io.LimitReader(part, mostValue))
		if err != nil {
			return nil, nil, tooLargeOrBroken(err)
		}
		form.Set(part.FormName(), string(text))
	}
	if len(photo) == 0 {
		return form, nil, problem.On("photo", "Choose a photo first.")
	}
	return form, photo, nil
}

func readPhoto(part *multipart.Part) ([]byte, error) {
	photo, err := io.ReadAll(io.LimitReader(part, mostPhoto+1))
	if err != nil {
		return nil, tooLargeOrBroken(err)
	}
	if len(photo) > mostPhoto {
		if _, err := io.Copy(io.Discard, part); err != nil {
			return nil, tooLargeOrBroken(err)
		}
		return nil, problem.On("photo", "This photo is larger than 12 MB. Take it again with a smaller picture size.")
	}
	return photo, nil
}
