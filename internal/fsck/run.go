package fsck

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

// chain computes the run's chain again and gives every head with the seq that
// it stands after.
func (c *runCheck) chain(posts []db.InspectedPost, entries []db.InspectedEntry) map[string]int {
	head, seq := ledger.Opening(c.run.Opening), 0
	heads := map[string]int{hex.EncodeToString(head): 0}
	of := map[int][]db.InspectedEntry{}
	for _, e := range entries {
		of[e.PostSeq] = append(of[e.PostSeq], e)
	}
	for _, p := range posts {
		var bodies [][]byte
		for _, e := range of[p.LastSeq] {
			bodies = append(bodies, e.Body)
		}
		if p.FirstSeq != seq+1 || p.LastSeq-p.FirstSeq+1 != len(bodies) {
			c.fault("post %d to %d holds %d entries and follows seq %d", p.FirstSeq, p.LastSeq, len(bodies), seq)
		}
		post := ledger.Post(bodies)
		next, digest := ledger.Link(head, p.LastSeq, post), sha256.Sum256(post)
		if !bytes.Equal(p.Previous, head) || !bytes.Equal(p.Chain, next) || !bytes.Equal(p.Digest, digest[:]) {
			c.fault("the chain breaks at post %d to %d", p.FirstSeq, p.LastSeq)
		}
		if slices.ContainsFunc(of[p.LastSeq], func(e db.InspectedEntry) bool { return !e.ReceivedAt.Equal(p.ReceivedAt) }) {
			c.fault("the entries of post %d to %d were not all received with it", p.FirstSeq, p.LastSeq)
		}
		c.expect(fmt.Sprintf("post %d to %d of run %s", p.FirstSeq, p.LastSeq, c.run.ID),
			ledger.EntryLeaf(c.run.ID, p.LastSeq, p.Chain, p.Sent, p.ReceivedAt))
		head, seq = next, p.LastSeq
		heads[hex.EncodeToString(head)] = seq
	}
	for i, e := range entries {
		if e.Seq != i+1 {
			c.fault("entry %d stands where %d belongs", e.Seq, i+1)
		}
	}
	if c.run.Seq != seq || c.run.Seq != len(entries) || !bytes.Equal(c.run.Head, head) {
		c.fault("its head is not that of the chain: seq %d, chain %d, entries %d", c.run.Seq, seq, len(entries))
	}
	return heads
}

// entries compares each stored body with its columns.
func (c *runCheck) entries(entries []db.InspectedEntry) {
	for _, row := range entries {
		var e commissioning.Entry
		if err := json.Unmarshal(row.Body, &e); err != nil {
			c.fault("entry %d: %v", row.Seq, err)
			continue
		}
		again, err := ledger.Body(e)
		if err != nil || !bytes.Equal(again, row.Body) {
			c.fault("entry %d is not canonical: %s", row.Seq, row.Body)
		}
		if e.ID != row.ID || string(e.Kind) != row.Kind || e.By != row.Author || len(e.Salt) != 32 {
			c.fault("entry %d says otherwise than its columns: %s", row.Seq, row.Body)
		}
		if e.ObservedAt.Sub(row.ObservedAt).Abs() >= time.Microsecond {
			c.fault("entry %d was observed %s, its column says %s", row.Seq, e.ObservedAt, row.ObservedAt)
		}
		if (e.Kind == commissioning.KindDisposition) == row.Contributor && row.Author[0] == 'P' {
			c.fault("entry %d, a %s by %s: contributor %t", row.Seq, row.Kind, row.Author, row.Contributor)
		}
	}
}

// judged reads the run as a logbook file and judges it at each signature.
func (c *runCheck) judged(entries []db.InspectedEntry, signatures []db.InspectedSignature) {
	procedure, err := commissioning.ParseProcedure(c.run.Procedure)
	if err != nil {
		c.fault("procedure: %v", err)
		return
	}
	var opening commissioning.Opening
	if err := json.Unmarshal(c.run.Opening, &opening); err != nil {
		c.fault("opening: %v", err)
	}
	book := commissioning.Logbook{
		Run: commissioning.LogbookRun{
			ID: c.run.ID, OpenedAt: c.run.OpenedAt,
			Unit: commissioning.LogbookUnit{Tag: opening.Unit.Tag, Serial: opening.Unit.Serial, Ink: opening.Unit.Ink, Makeup: opening.Unit.Makeup},
			Site: commissioning.LogbookSite{Name: opening.Site.Name, TimeZone: opening.Site.TimeZone},
		},
		Procedure: procedure, Entries: []commissioning.Entry{}, At: c.run.OpenedAt,
	}
	for _, row := range entries {
		var e commissioning.Entry
		_ = json.Unmarshal(row.Body, &e) // entries says so
		e.Seq, e.ReceivedAt = row.Seq, &row.ReceivedAt
		book.Entries = append(book.Entries, e)
	}
	file, err := json.Marshal(book)
	if err != nil {
		c.fault("logbook: %v", err)
		return
	}
	if _, err := commissioning.ParseLogbook(bytes.NewReader(file)); err != nil {
		c.fault("its logbook can't be read: %v", err)
		return
	}
	for i, s := range signatures {
		if s.Kind != string(commissioning.Countersignature) || i == 0 {
			continue
		}
		assessment := rules.Judge(book, signatures[i-1].SignedAt)
		if assessment.Verdict != rules.Releasable || !bytes.Equal(rules.Encode(assessment), s.Assessment) {
			c.fault("it was released, but judged again it is %s", assessment.Verdict)
		}
	}
}

// signed checks heads and persons of every signature.
func (c *runCheck) signed(heads map[string]int, entries []db.InspectedEntry, signatures []db.InspectedSignature) {
	for i, s := range signatures {
		after, known := heads[hex.EncodeToString(s.Head)]
		if !known {
			c.fault("the %s of round %d stands on a head that the run never had", s.Kind, s.Round)
		}
		if s.Kind == string(commissioning.Submission) {
			if !s.Contributor {
				c.fault("%s submitted and is no contributor", s.Person)
			}
			continue
		}
		if s.Contributor {
			c.fault("%s countersigned work of their own", s.Person)
		}
		if i == 0 || signatures[i-1].Round != s.Round || signatures[i-1].Person == s.Person {
			c.fault("the countersignature of round %d has no submission by somebody else", s.Round)
			continue
		}
		if after != c.run.Seq {
			c.fault("an entry came after the countersignature")
		}
		submitted := heads[hex.EncodeToString(signatures[i-1].Head)]
		if slices.ContainsFunc(entries, func(e db.InspectedEntry) bool {
			return e.Seq > submitted && e.Kind != string(commissioning.KindDisposition)
		}) {
			c.fault("work was added after the submission of round %d", s.Round)
		}
	}
}
