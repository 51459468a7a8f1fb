package handlers

import (
	"net/http"
	"net/url"

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
)

// ShowEstimates reckons old fluid, make-up and vapour of a run, with numbers
// from the address where somebody tries their own.
func (s *Screens) ShowEstimates(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	typed := assumedTexts(r.URL.Query())
	assumed, wrong := decodeAssumed(typed)
	page := templates.EstimatesPage(runFrame(r, v, words.Say("Estimates")), v, assumed, parts.Form{Values: typed, Err: wrong})
	if wrong != nil {
		return respond.Refused(w, r, wrong, page)
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// assumedTexts fills what was not typed with the first values.
func assumedTexts(typed url.Values) url.Values {
	texts := url.Values{}
	for _, one := range templates.Assumptions {
		texts.Set(one.Name, one.First)
		if typed.Has(one.Name) {
			texts.Set(one.Name, typed.Get(one.Name))
		}
	}
	return texts
}

func decodeAssumed(texts url.Values) (templates.Assumed, error) {
	assumed := templates.Assumed{}
	for _, one := range templates.Assumptions {
		d, err := measure.Parse(texts.Get(one.Name))
		if err != nil {
			return nil, problem.On(one.Name, "%q is no number. Type it with a point.", texts.Get(one.Name))
		}
		if d.Cmp(measure.Must(one.Least)) < 0 || measure.Must(one.Most).Cmp(d) < 0 {
			return nil, problem.On(one.Name, "It lies between %s and %s. Type it again.", one.Least, one.Most)
		}
		assumed[one.Name] = d.Float()
	}
	return assumed, nil
}
