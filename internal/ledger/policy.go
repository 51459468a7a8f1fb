package ledger

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// maxPolicyLines bounds what a policy may ask for.
const maxPolicyLines = 1000

// Policy says whose signatures make a checkpoint one to believe: any one of the
// logs, and witnesses enough for the quorum. It is written as C2SP tlog-policy:
//
//	log VKEY [URL]
//	witness NAME VKEY [URL]
//	group NAME all|any|NUMBER NAME...
//	quorum NAME|none
//
// Read one with ReadPolicy; the zero Policy believes nothing.
type Policy struct {
	logs      []note.Verifier
	witnesses map[string]Witness
	groups    map[string]group
	quorum    string
}

// Witness is somebody who cosigns checkpoints, and where to ask them.
type Witness struct {
	Name, URL string
	key       note.Verifier
}

type group struct {
	need    int
	members []string
}

// PolicyOf is the text of a policy that believes these logs and asks for no witnesses.
func PolicyOf(vkeys ...string) string {
	text := ""
	for _, k := range vkeys {
		text += "log " + k + "\n"
	}
	return text + "quorum none\n"
}

// ReadPolicy reads a policy. What it can't make sense of, it refuses: a policy
// that is half understood would believe too much.
func ReadPolicy(text []byte) (Policy, error) {
	p := Policy{witnesses: map[string]Witness{}, groups: map[string]group{}}
	r := policyReader{p: &p, names: map[string]bool{"none": true}, keys: map[string]bool{}, placed: map[string]bool{}}
	lines := strings.Split(string(text), "\n")
	if len(lines) > maxPolicyLines {
		return Policy{}, fmt.Errorf("policy: more than %d lines", maxPolicyLines)
	}
	for i, line := range lines {
		if strings.ContainsFunc(line, func(c rune) bool { return c < ' ' && c != '\t' || c == 0x7f }) {
			return Policy{}, fmt.Errorf("policy: line %d: a control character", i+1)
		}
		words := strings.FieldsFunc(line, func(c rune) bool { return c == ' ' || c == '\t' })
		if len(words) == 0 || strings.HasPrefix(words[0], "#") {
			continue
		}
		if err := r.line(words[0], words[1:]); err != nil {
			return Policy{}, fmt.Errorf("policy: line %d: %w", i+1, err)
		}
	}
	if p.quorum == "" {
		return Policy{}, fmt.Errorf("policy: no line quorum")
	}
	return p, nil
}

type policyReader struct {
	p      *Policy
	names  map[string]bool // of witnesses and groups
	keys   map[string]bool // public keys, whatever their names
	placed map[string]bool // members of some group
}

func (r *policyReader) line(word string, rest []string) error {
	switch {
	case word == "log" && (len(rest) == 1 || len(rest) == 2):
		return r.log(rest[0])
	case word == "witness" && (len(rest) == 2 || len(rest) == 3):
		return r.witness(rest)
	case word == "group" && len(rest) >= 3:
		return r.group(rest[0], rest[1], rest[2:])
	case word == "quorum" && len(rest) == 1:
		return r.quorum(rest[0])
	}
	return fmt.Errorf("%q with %d words after it is none of log, witness, group, quorum", word, len(rest))
}

func (r *policyReader) log(vkey string) error {
	v, err := note.NewVerifier(vkey)
	if err != nil {
		return fmt.Errorf("log key: %w", err)
	}
	r.p.logs = append(r.p.logs, v)
	return r.newKey(vkey)
}

func (r *policyReader) witness(words []string) error {
	if err := r.newName(words[0]); err != nil {
		return err
	}
	key, err := newCosignatureVerifier(words[1])
	if err != nil {
		return fmt.Errorf("witness %s: %w", words[0], err)
	}
	w := Witness{Name: words[0], key: key}
	if len(words) == 3 {
		w.URL = strings.TrimRight(words[2], "/")
	}
	r.p.witnesses[w.Name] = w
	return r.newKey(words[1])
}

func (r *policyReader) group(name, need string, members []string) error {
	if err := r.newName(name); err != nil {
		return err
	}
	g := group{members: members}
	switch need {
	case "any":
		g.need = 1
	case "all":
		g.need = len(members)
	default:
		n, err := strconv.Atoi(need)
		if err != nil || n < 1 || n > len(members) || strconv.Itoa(n) != need {
			return fmt.Errorf("group %s can't need %q of %d", name, need, len(members))
		}
		g.need = n
	}
	for _, m := range members {
		if !r.names[m] || m == "none" || m == name {
			return fmt.Errorf("group %s: nothing before it is named %q", name, m)
		}
		if r.placed[m] {
			return fmt.Errorf("group %s: %s counts in a group already", name, m)
		}
		r.placed[m] = true
	}
	r.p.groups[name] = g
	return nil
}

func (r *policyReader) quorum(name string) error {
	if r.p.quorum != "" {
		return fmt.Errorf("a second line quorum")
	}
	if !r.names[name] {
		return fmt.Errorf("quorum: nothing before it is named %q", name)
	}
	r.p.quorum = name
	return nil
}

func (r *policyReader) newName(name string) error {
	if r.names[name] {
		return fmt.Errorf("the name %q is taken", name)
	}
	r.names[name] = true
	return nil
}

// newKey refuses a public key that stands under another name: it would count twice.
func (r *policyReader) newKey(vkey string) error {
	_, public, err := splitKey(vkey)
	if err != nil {
		return err
	}
	if r.keys[string(public)] {
		return fmt.Errorf("the same public key twice")
	}
	r.keys[string(public)] = true
	return nil
}

// Witnesses gives the witnesses that have an address to ask, by name.
func (p Policy) Witnesses() map[string]Witness {
	all := map[string]Witness{}
	for name, w := range p.witnesses {
		if w.URL != "" {
			all[name] = w
		}
	}
	return all
}

// Knows says whether the policy names this witness.
func (p Policy) Knows(witness string) bool {
	_, known := p.witnesses[witness]
	return known
}

// verifiers is every key that the policy knows.
func (p Policy) verifiers() note.Verifiers {
	all := append([]note.Verifier{}, p.logs...)
	for _, w := range p.witnesses {
		all = append(all, w.key)
	}
	return note.VerifierList(all...)
}

// enough says whether the cosigners, by witness name, make the quorum.
func (p Policy) enough(cosigned map[string]bool) bool {
	return p.quorum == "none" || p.witnessed(p.quorum, cosigned)
}

func (p Policy) witnessed(name string, cosigned map[string]bool) bool {
	g, isGroup := p.groups[name]
	if !isGroup {
		return cosigned[name]
	}
	count := 0
	for _, m := range g.members {
		if p.witnessed(m, cosigned) {
			count++
		}
	}
	return count >= g.need
}
