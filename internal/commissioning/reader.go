package commissioning

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// reader takes a tree apart and keeps the first refusal. After one, everything
// it reads is a zero value, so that callers check once at the end.
type reader struct {
	err  error
	kept []error // refusals of pieces that were read apart
}

// apart reads one piece by itself: a refusal in it is kept, and what stands
// after it is read as well.
func (r *reader) apart(read func()) {
	outside := r.err
	r.err = nil
	read()
	if r.err != nil {
		r.kept = append(r.kept, r.err)
	}
	r.err = outside
}

// refuse keeps the first refusal; n may be nil once one was kept.
func (r *reader) refuse(n *node, format string, args ...any) {
	if r.err == nil {
		r.err = n.refuse(n.path(), format, args...)
	}
}

// object opens n, which must be an object. Call done when all was read.
func (r *reader) object(n *node) object {
	if r.err == nil && n.shape != isObject {
		r.refuse(n, "expected an object, found %s", n.shape.name())
	}
	return object{r, n}
}

// object reads the fields of one object.
type object struct {
	*reader
	n *node
}

// done refuses the first field that nobody asked for.
func (o object) done() {
	if o.err != nil {
		return
	}
	for _, item := range o.n.items {
		if !item.read {
			o.refuse(item, "expected no such field here")
			return
		}
	}
}

// maybe gives a field that may be absent: nil then, or after a refusal.
func (o object) maybe(key string) *node {
	if o.err != nil {
		return nil
	}
	n := o.n.field(key)
	if n != nil {
		n.read = true
	}
	return n
}

// has says whether the field is there, without reading it.
func (o object) has(key string) bool { return o.err == nil && o.n.field(key) != nil }

// need gives a field that must be there; what says what was expected.
func (o object) need(key string, what words.Text) *node {
	n := o.maybe(key)
	if n == nil && o.err == nil {
		o.err = o.n.refuse(o.n.path()+pathStep(key), "expected %s, found nothing", what)
	}
	return n
}

// scalar gives the text of a node of one of the shapes, "" after a refusal.
func (o object) scalar(n *node, what words.Text, shapes ...shape) string {
	if n == nil || o.err != nil {
		return ""
	}
	if !slices.Contains(shapes, n.shape) {
		o.refuse(n, "expected %s, found %s", what, n.shape.name())
		return ""
	}
	return n.text
}

// label reads text that must be there and not be blank.
func (o object) label(key string) string {
	n := o.need(key, words.Say("text"))
	text := o.scalar(n, words.Say("text"), isText)
	if o.err == nil && strings.TrimSpace(text) == "" {
		o.refuse(n, "expected text that is not blank")
	}
	return text
}

// text reads text that must be there but may be empty.
func (o object) text(key string) string {
	return o.scalar(o.need(key, words.Say("text")), words.Say("text"), isText)
}

// remark reads text that may be absent.
func (o object) remark(key string) string { return o.scalar(o.maybe(key), words.Say("text"), isText) }

// labels reads a list of texts, none blank and none twice.
func (o object) labels(n *node) []string {
	list := []string{}
	for _, item := range o.list(n) {
		text := o.scalar(item, words.Say("text"), isText)
		switch {
		case o.err != nil:
		case strings.TrimSpace(text) == "":
			o.refuse(item, "expected text that is not blank")
		case slices.Contains(list, text):
			o.refuse(item, "expected each only once, found %s again", quote(text))
		}
		list = append(list, text)
	}
	return list
}

// list gives the items of a list; n may be nil.
func (o object) list(n *node) []*node {
	if n == nil || o.err != nil {
		return nil
	}
	if n.shape != isList {
		o.refuse(n, "expected a list, found %s", n.shape.name())
		return nil
	}
	return n.items
}

// word reads one of the words.
func (o object) word(key string, choices ...string) string {
	what := words.Say("one of %s", strings.Join(choices, ", "))
	n := o.need(key, what)
	text := o.scalar(n, what, isText)
	if o.err == nil && !slices.Contains(choices, text) {
		o.refuse(n, "expected %s, found %s", what, quote(text))
	}
	return text
}

// flag reads true or false, nil when absent.
func (o object) flag(key string) *bool {
	n := o.maybe(key)
	if n == nil {
		return nil
	}
	yes := strings.EqualFold(o.scalar(n, isBool.name(), isBool), "true")
	return &yes
}

// whole reads an integer of at least least.
func (o object) whole(key string, least int) int {
	return o.integer(o.need(key, words.Say("a whole number")), least)
}

func (o object) integer(n *node, least int) int {
	text := o.scalar(n, words.Say("a whole number"), isNumber)
	if o.err != nil {
		return 0
	}
	number, err := strconv.Atoi(text)
	if err != nil || number < least || number > 1<<31-1 || strconv.Itoa(number) != text {
		o.refuse(n, "expected a whole number of at least %d, found %s", least, quote(text))
	}
	return number
}

// millis reads an integer that may be absent.
func (o object) millis(key string) *int64 {
	n := o.maybe(key)
	if n == nil {
		return nil
	}
	text := o.scalar(n, words.Say("a whole number of milliseconds"), isNumber)
	number, err := strconv.ParseInt(text, 10, 54)
	if o.err == nil && err != nil {
		o.refuse(n, "expected a whole number of milliseconds, found %s", quote(text))
	}
	return &number
}

// decimal reads a decimal that must be there, as typed.
func (o object) decimal(key string) string {
	return o.number(o.need(key, words.Say("a decimal number")))
}

// number reads a decimal from n, "" when n is nil.
func (o object) number(n *node) string {
	text := o.scalar(n, words.Say("a decimal number"), isText, isNumber)
	if n == nil || o.err != nil {
		return ""
	}
	if _, err := measure.Parse(text); err != nil {
		o.refuse(n, "expected a decimal number such as 4.50, found %s", quote(text))
	}
	return text
}

// bounded reads a decimal that must not be below least, nor above most unless most is "".
func (o object) bounded(n *node, least, most string) string {
	text := o.number(n)
	if text == "" || o.err != nil {
		return ""
	}
	value := measure.Must(text)
	switch {
	case value.Cmp(measure.Must(least)) < 0:
		o.refuse(n, "expected a number of at least %s, found %s", least, text)
	case most != "" && value.Cmp(measure.Must(most)) > 0:
		o.refuse(n, "expected a number of at most %s, found %s", most, text)
	}
	return text
}

// positive refuses zero and below.
func (o object) positive(n *node) string {
	text := o.number(n)
	if text != "" && o.err == nil && measure.Must(text).Sign() <= 0 {
		o.refuse(n, "expected a number above zero, found %s", text)
	}
	return text
}

// unit reads a unit; a kind other than "" must be met.
func (o object) unit(key string, kind measure.Kind) string {
	what := words.Say("a unit")
	if kind != "" {
		what = words.Say("a unit of %s (%s)", KindName(kind), strings.Join(measure.UnitsOf(kind), ", "))
	}
	n := o.need(key, what)
	text := o.scalar(n, what, isText)
	if o.err != nil {
		return ""
	}
	if found, ok := measure.KindOf(text); !ok || kind != "" && found != kind {
		o.refuse(n, "expected %s, found %s", what, quote(text))
	}
	return text
}

// rfc3339 is the grammar of RFC 3339 section 5.6; nine digits of a second are
// what an instant keeps.
var rfc3339 = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}[Tt]\d{2}:\d{2}:\d{2}(\.\d{1,9})?([Zz]|[+-]([01]\d|2[0-3]):[0-5]\d)$`)

// ParseInstant reads an RFC 3339 instant with an offset; false when it is none.
func ParseInstant(text string) (time.Time, bool) {
	if !rfc3339.MatchString(text) {
		return time.Time{}, false
	}
	instant, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text))
	instant = instant.UTC()
	return instant, err == nil && instant.Year() > 0 && instant.Year() < 10000
}

var anInstant = words.Say("an RFC 3339 instant with an offset")

// instant reads an instant that must be there.
func (o object) instant(key string) time.Time { return o.moment(o.need(key, anInstant)) }

// instantMaybe reads an instant that may be absent.
func (o object) instantMaybe(key string) *time.Time {
	n := o.maybe(key)
	if n == nil {
		return nil
	}
	instant := o.moment(n)
	return &instant
}

func (o object) moment(n *node) time.Time {
	text := o.scalar(n, anInstant, isText)
	if o.err != nil {
		return time.Time{}
	}
	instant, ok := ParseInstant(text)
	if !ok {
		o.refuse(n, "expected %s, found %s", anInstant, quote(text))
	}
	return instant
}

// date reads a calendar day that must be there.
func (o object) date(key string) string {
	n := o.need(key, words.Say("a date as YYYY-MM-DD"))
	text := o.scalar(n, words.Say("a date as YYYY-MM-DD"), isText)
	if o.err != nil {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		o.refuse(n, "expected a date as YYYY-MM-DD, found %s", quote(text))
	}
	return text
}

// duration reads a duration that must be there and be at least least.
func (o object) duration(key string, least time.Duration) Duration {
	return o.span(o.need(key, words.Say("a duration such as 7m")), least)
}

// span reads a duration from n, zero when n is nil.
func (o object) span(n *node, least time.Duration) Duration {
	text := o.scalar(n, words.Say("a duration such as 7m"), isText)
	if n == nil || o.err != nil {
		return Duration{}
	}
	d, err := time.ParseDuration(text)
	switch {
	case err != nil:
		o.refuse(n, "expected a duration such as 7m or 1h30m, found %s", quote(text))
	case d < least && least == time.Nanosecond:
		o.refuse(n, "expected a duration above zero, found %s", text)
	case d < least:
		o.refuse(n, "expected a duration of at least %s, found %s", least, text)
	}
	return Duration{text, d}
}

// quote shows what was found, on one line and not for ever.
func quote(text string) string {
	const enough = 60
	if len(text) > enough {
		text = text[:enough] + "…"
	}
	return strconv.QuoteToGraphic(text)
}
