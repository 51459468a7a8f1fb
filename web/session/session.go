// Package session says who a request comes from. The cookie holds a random
// token; the session itself is in Postgres, and the person is read anew for
// every request, so whoever is disabled is out with their next request.
//
// Passwords and one-time codes are checked in internal/act, not here.
package session

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const (
	idle     = 30 * time.Minute
	absolute = 12 * time.Hour // a shift

	personKey = "person"
	deviceKey = "device"
	agentKey  = "agent" // what the device is, in words
	sinceKey  = "since"
	askedKey  = "challenge" // for a passkey to answer
)

// cookie has the prefix that binds it to this host, without a domain. Browsers
// take it over http too from localhost, which is nobody else's (tried: Chromium).
const cookie = "__Host-settlemark"

// Sessions reads and ends sessions.
type Sessions struct {
	db      *db.DB
	manager *scs.SessionManager
}

// New makes the sessions; failed answers a request whose session can't be read.
func New(d *db.DB, failed func(http.ResponseWriter, *http.Request, error)) *Sessions {
	m := scs.New()
	m.Store, m.Codec = d.SessionStore(), codec{}
	m.IdleTimeout, m.Lifetime = idle, absolute
	m.Cookie.Name, m.Cookie.Secure = cookie, true
	m.ErrorFunc = failed
	return &Sessions{db: d, manager: m}
}

type currentKey struct{}

// current is what this request's context carries.
type current struct {
	manager *scs.SessionManager
	person  *commissioning.Person
	locked  bool
}

// Load reads the session and its person, for everything that comes after it.
func (s *Sessions) Load(next http.Handler) http.Handler {
	return s.manager.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		person, err := s.person(r.Context())
		if err != nil {
			s.manager.ErrorFunc(w, r, err)
			return
		}
		locked := false
		if person != nil {
			if locked, err = s.db.SessionLocked(r.Context(), s.manager.Token(r.Context())); err != nil {
				s.manager.ErrorFunc(w, r, err)
				return
			}
		}
		ctx := context.WithValue(r.Context(), currentKey{}, current{s.manager, person, locked})
		next.ServeHTTP(w, r.WithContext(ctx))
	}))
}

func manager(r *http.Request) *scs.SessionManager {
	return r.Context().Value(currentKey{}).(current).manager
}

// person reads who the session belongs to; nil when nobody is signed in.
func (s *Sessions) person(ctx context.Context) (*commissioning.Person, error) {
	id := s.manager.GetString(ctx, personKey)
	if id == "" {
		return nil, nil
	}
	p, err := s.db.Person(ctx, commissioning.PersonID(id))
	if problem.KindOf(err) == problem.NotFound || err == nil && p.DisabledAt != nil {
		return nil, s.manager.Destroy(ctx)
	}
	if err != nil {
		return nil, err
	}
	return &p, nil
}

// Current gives the person of this request, and whether there is one.
func Current(r *http.Request) (commissioning.Person, bool) {
	c, _ := r.Context().Value(currentKey{}).(current)
	if c.person == nil {
		return commissioning.Person{}, false
	}
	return *c.person, true
}

// Person gives the person of this request. Routes that need a sign-in are not
// reached without one.
func Person(r *http.Request) commissioning.Person {
	p, _ := Current(r)
	return p
}

// Still says whether a stream may go on for its reader: the shift is not over
// and the person is not disabled. Sitting still does not end a stream, since
// watching a hold is sitting still; it ends what the person may do.
func (s *Sessions) Still(ctx context.Context, r *http.Request, now time.Time) bool {
	c, ok := r.Context().Value(currentKey{}).(current)
	if !ok || c.person == nil || now.After(c.manager.Deadline(r.Context())) {
		return false
	}
	p, err := s.db.Person(ctx, c.person.ID)
	return err == nil && p.DisabledAt == nil
}

// Device names the browser session, for the entries that come from it.
func Device(r *http.Request) string {
	c, ok := r.Context().Value(currentKey{}).(current)
	if !ok {
		return ""
	}
	return c.manager.GetString(r.Context(), deviceKey)
}

// SignIn makes the person the one of this session, under a new token.
func SignIn(r *http.Request, p commissioning.Person, now time.Time) error {
	c := r.Context().Value(currentKey{}).(current)
	ctx := r.Context()
	if err := c.manager.RenewToken(ctx); err != nil {
		return err
	}
	var device [4]byte
	if _, err := rand.Read(device[:]); err != nil {
		return err
	}
	c.manager.Put(ctx, personKey, string(p.ID))
	c.manager.Put(ctx, deviceKey, "browser "+hex.EncodeToString(device[:]))
	c.manager.Put(ctx, agentKey, agent(r.UserAgent()))
	c.manager.Put(ctx, sinceKey, now.UTC().Format(time.RFC3339))
	return nil
}

// Ask draws a challenge for a passkey and keeps it until it is answered.
func Ask(r *http.Request) []byte {
	c := r.Context().Value(currentKey{}).(current)
	challenge := make([]byte, 32)
	_, _ = rand.Read(challenge) // never fails
	c.manager.Put(r.Context(), askedKey, hex.EncodeToString(challenge))
	return challenge
}

// Asked gives the challenge that was drawn last, once.
func Asked(r *http.Request) []byte {
	c := r.Context().Value(currentKey{}).(current)
	challenge, err := hex.DecodeString(c.manager.PopString(r.Context(), askedKey))
	if err != nil || len(challenge) == 0 {
		challenge = make([]byte, 32)
		_, _ = rand.Read(challenge) // one that nobody was asked
	}
	return challenge
}

// Lock locks this session: what is asked for in it is refused until Unlock.
func (s *Sessions) Lock(r *http.Request) error {
	return s.db.LockSession(r.Context(), s.manager.Token(r.Context()))
}

// Locked says whether this session is locked.
func Locked(r *http.Request) bool {
	c, _ := r.Context().Value(currentKey{}).(current)
	return c.locked
}

// Unlock goes on under a new token, which is not locked. The shift ends when it
// would have ended.
func Unlock(r *http.Request) error {
	m, ctx := manager(r), r.Context()
	end := m.Deadline(ctx)
	if err := m.RenewToken(ctx); err != nil {
		return err
	}
	m.SetDeadline(ctx, end)
	return nil
}

// Keep keeps something in this session under a name, for a later request.
func Keep(r *http.Request, name string, what any) error {
	text, err := json.Marshal(what)
	if err == nil {
		manager(r).Put(r.Context(), name, string(text))
	}
	return err
}

// Kept gives what was kept under the name, and whether there was anything.
func Kept(r *http.Request, name string, into any) bool {
	return json.Unmarshal([]byte(manager(r).GetString(r.Context(), name)), into) == nil
}

// Taken is Kept for the last time.
func Taken(r *http.Request, name string, into any) bool {
	return json.Unmarshal([]byte(manager(r).PopString(r.Context(), name)), into) == nil
}

// SignOut ends this session. What waits on the tablet to be sent stays there.
func SignOut(r *http.Request) error {
	c := r.Context().Value(currentKey{}).(current)
	return c.manager.Destroy(r.Context())
}

// Clear has the browser throw away all that it kept of the app.
func Clear(w http.ResponseWriter) {
	w.Header().Set("Clear-Site-Data", `"cache", "cookies", "storage"`)
}
