package mqtt

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"settlemark/internal/intake"
)

// fields of a reading that a row may be made of.
var fields = []string{"id", "quantity", "value", "unit", "state", "observed_at", "note"}

func (t *Topic) check() error {
	if t.Tag == "" {
		t.Tag = "{tag}"
	}
	if t.Gateway == "" {
		return errors.New("it needs the code of a gateway")
	}
	if strings.ContainsAny(t.Topic, "#+") {
		return errors.New("write a level that differs as {its name}, not as + or #")
	}
	for name, from := range t.Row {
		if !slices.Contains(fields, name) {
			return fmt.Errorf("a reading has no field %q; there are %v", name, fields)
		}
		if err := t.known(from); err != nil {
			return err
		}
	}
	if t.Row != nil && (t.Row["quantity"] == "" || t.Row["observed_at"] == "") {
		return errors.New("a row needs a quantity and observed_at: without the instant a message that comes twice would count twice")
	}
	return t.known(t.Tag)
}

// known says whether a place in braces is a level of the topic.
func (t *Topic) known(from string) error {
	if strings.HasPrefix(from, "{") && !slices.Contains(strings.Split(t.Topic, "/"), from) {
		return fmt.Errorf("%s is no level of it", from)
	}
	return nil
}

// filter is what the broker is asked for.
func (t *Topic) filter() string {
	levels := strings.Split(t.Topic, "/")
	for i, level := range levels {
		if strings.HasPrefix(level, "{") {
			levels[i] = "+"
		}
	}
	return strings.Join(levels, "/")
}

// match gives the levels of a message's topic that have a name here.
func (t *Topic) match(topic string) (named map[string]string, ok bool) {
	ours, theirs := strings.Split(t.Topic, "/"), strings.Split(topic, "/")
	if len(ours) != len(theirs) {
		return nil, false
	}
	named = map[string]string{}
	for i, level := range ours {
		if strings.HasPrefix(level, "{") {
			named[level] = theirs[i]
		} else if level != theirs[i] {
			return nil, false
		}
	}
	return named, true
}

// rows makes of a message the tag of its unit and what the interface for machines takes.
func (t *Topic) rows(named map[string]string, message []byte) (tag string, rows [][]byte, err error) {
	tag, err = t.text(t.Tag, named, message)
	if err != nil {
		return "", nil, err
	}
	if t.Row == nil {
		if jsontext.Value(message).Kind() == '[' {
			rows, err = intake.List(message)
			return tag, rows, err
		}
		return tag, [][]byte{message}, nil
	}
	row := map[string]jsontext.Value{}
	for name, from := range t.Row {
		v, err := t.value(from, named, message)
		if err != nil {
			return "", nil, err
		}
		if row[name] = v; name == "observed_at" && v.Kind() == '0' {
			if row[name], err = instant(v); err != nil {
				return "", nil, err
			}
		}
	}
	made, err := json.Marshal(row, json.Deterministic(true))
	return tag, [][]byte{made}, err
}

// value is a level of the topic, a place in the message by its JSON pointer, or itself.
func (t *Topic) value(from string, named map[string]string, message []byte) (jsontext.Value, error) {
	switch {
	case strings.HasPrefix(from, "{"):
		return json.Marshal(named[from])
	case strings.HasPrefix(from, "/"):
		return at(message, jsontext.Pointer(from))
	}
	return json.Marshal(from)
}

func (t *Topic) text(from string, named map[string]string, message []byte) (s string, err error) {
	v, err := t.value(from, named, message)
	if err != nil {
		return "", err
	}
	return s, json.Unmarshal(v, &s)
}

// at gives what stands in a message at a place, digit by digit as it was sent.
func at(message jsontext.Value, place jsontext.Pointer) (jsontext.Value, error) {
	for token := range place.Tokens() {
		var next jsontext.Value
		var err error
		if message.Kind() == '[' {
			var list []jsontext.Value
			i, bad := strconv.Atoi(token)
			if err = json.Unmarshal(message, &list); err == nil && bad == nil && i >= 0 && i < len(list) {
				next = list[i]
			}
		} else {
			var object map[string]jsontext.Value
			err = json.Unmarshal(message, &object)
			next = object[token]
		}
		if err != nil || next == nil {
			return nil, fmt.Errorf("the message has nothing at %s", place)
		}
		message = next
	}
	return message, nil
}

// instant reads seconds or milliseconds since 1970, as many machines date.
func instant(v jsontext.Value) (jsontext.Value, error) {
	f, err := strconv.ParseFloat(string(v), 64)
	if err != nil {
		return nil, err
	}
	const inMilliseconds = 1e11 // of seconds, that would be the year 5138
	if f < inMilliseconds {
		f *= 1000
	}
	return json.Marshal(time.UnixMilli(int64(f)).UTC().Format("2006-01-02T15:04:05.000Z"))
}
