package mqtt

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/url"
	"slices"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/paho"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/intake"
	"settlemark/internal/problem"
)

const (
	atOnce     = 100       // messages that the broker sends before it waits for what became of them
	remembered = 7 * 86400 // seconds for which the broker keeps what comes while nobody is here
	alive      = 30        // seconds of silence after which a connection is tried
	tries      = 5         // of a message that fails for no reason that passes
	lastPause  = 30 * time.Second
)

// Subscriber records what a broker sends.
type Subscriber struct {
	Config *Config
	DB     *db.DB
	Acts   *act.Acts
	Now    func() time.Time
	Log    *slog.Logger

	FirstPause time.Duration // before something is tried again; doubled each time
}

// Run stays with the broker until the context ends, through whatever cuts it off. A
// message is acknowledged once its readings are stored, or can never be.
func (s *Subscriber) Run(ctx context.Context) error {
	ctx = db.Ingest(ctx)
	connection, err := autopaho.NewConnection(ctx, autopaho.ClientConfig{
		ServerUrls: []*url.URL{s.Config.address}, TlsCfg: s.Config.tls, KeepAlive: alive, SessionExpiryInterval: remembered,
		ConnectUsername: s.Config.User, ConnectPassword: s.Config.password, ReconnectBackoff: s.pause,
		ConnectPacketBuilder: func(c *paho.Connect, _ *url.URL) (*paho.Connect, error) {
			most := uint16(atOnce)
			c.Properties.ReceiveMaximum = &most
			return c, nil
		},
		OnConnectionUp: func(m *autopaho.ConnectionManager, _ *paho.Connack) {
			go s.subscribe(ctx, m) // the library waits for us here
		},
		OnConnectError: func(err error) {
			if ctx.Err() == nil {
				s.Log.WarnContext(ctx, "the broker is not reached", "broker", s.Config.Broker, "cause", err)
			}
		},
		ClientConfig: paho.ClientConfig{
			ClientID: s.Config.Client, EnableManualAcknowledgment: true, SendAcksInterval: 50 * time.Millisecond,
			OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
				if !s.take(ctx, p.Packet) {
					return true, nil // nothing is acknowledged, so the broker keeps it
				}
				return true, p.Client.Ack(p.Packet)
			}},
		},
	})
	if err != nil {
		return err
	}
	<-ctx.Done()
	<-connection.Done()
	return nil
}

func (s *Subscriber) pause(attempt int) time.Duration {
	longest := min(s.FirstPause<<min(attempt, 10), lastPause)
	return longest/2 + rand.N(longest/2) //nolint:gosec // no secret
}

func (s *Subscriber) subscribe(ctx context.Context, m *autopaho.ConnectionManager) {
	asked := &paho.Subscribe{}
	for _, t := range s.Config.Topics {
		asked.Subscriptions = append(asked.Subscriptions, paho.SubscribeOptions{Topic: t.filter(), QoS: 1})
	}
	if _, err := m.Subscribe(ctx, asked); err != nil && ctx.Err() == nil {
		s.Log.ErrorContext(ctx, "the broker refuses the topics", "broker", s.Config.Broker, "cause", err)
		return
	}
	s.Log.InfoContext(ctx, "subscribed", "broker", s.Config.Broker)
}

// take says whether a message is dealt with: stored, or refused for good. Only the end
// of the program leaves it undone.
func (s *Subscriber) take(ctx context.Context, p *paho.Publish) bool {
	for failed := 0; ; failed++ {
		err := s.record(ctx, p)
		switch kind := problem.KindOf(err); {
		case err == nil:
			return true
		case ctx.Err() != nil:
			return false
		case kind != problem.Busy && (kind != 0 || failed >= tries):
			s.Log.WarnContext(ctx, "a message is not recorded", "topic", p.Topic, "bytes", len(p.Payload), "cause", err)
			return true
		}
		select {
		case <-ctx.Done():
			return false
		case <-time.After(s.pause(failed)):
		}
	}
}

// never says why a message can't be recorded however often it is tried. The log alone
// hears it, so it is English.
func never(format string, args ...any) error {
	return &problem.Error{Kind: problem.Invalid, Cause: fmt.Errorf(format, args...)}
}

// record stores the readings of one message. Rows that can't be taken are logged, and
// keep no other out.
func (s *Subscriber) record(ctx context.Context, p *paho.Publish) error {
	for i := range s.Config.Topics {
		t := &s.Config.Topics[i]
		named, ours := t.match(p.Topic)
		if !ours {
			continue
		}
		tag, rows, err := t.rows(named, p.Payload)
		if err != nil {
			return never("%w", err)
		}
		refused, err := s.store(ctx, t.Gateway, tag, rows)
		if err == nil && refused != nil {
			s.Log.WarnContext(ctx, "readings of a message are refused", "topic", p.Topic, "cause", refused)
		}
		return err
	}
	return never("no topic of the file is this one")
}

// store records rows in the open run of a unit; refused says why of those that are not.
func (s *Subscriber) store(ctx context.Context, gateway, tag string, rows [][]byte) (refused, err error) {
	logger, err := s.DB.Logger(ctx, gateway)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(logger.Units, tag) {
		return nil, never("gateway %s does not report for unit %s", gateway, tag)
	}
	run, err := s.DB.OpenRunOf(ctx, logger.Site, tag)
	if err != nil {
		return nil, err
	}
	r, err := s.DB.Run(ctx, reader(logger), run)
	if err != nil {
		return nil, err
	}
	stored, err := s.DB.Procedure(ctx, r.Procedure, r.Revision)
	if err != nil {
		return nil, err
	}
	for i, row := range rows {
		if rows[i], err = intake.Reading(row, logger.ID, tag); err != nil {
			return nil, err
		}
	}
	entries, faults := sound(intake.Decode(rows, stored.Procedure))
	if len(entries) == 0 {
		return faults, nil
	}
	outcomes, err := s.Acts.RecordEach(ctx, act.Author{Logger: &logger}, run, entries, s.Now())
	for _, o := range outcomes {
		faults = errors.Join(faults, o.Err)
	}
	return faults, err
}

// reader sees the runs of a gateway's site as a supervisor does.
func reader(l commissioning.Logger) commissioning.Person {
	return commissioning.Person{Name: l.Name, Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: l.Site}}}
}

// sound are the rows that became entries; faults says why of the others.
func sound(rows []intake.Decoded) (entries []commissioning.Entry, faults error) {
	for i, row := range rows {
		if row.Err != nil {
			faults = errors.Join(faults, fmt.Errorf("row %d: %w", i, row.Err))
			continue
		}
		entries = append(entries, row.Entry)
	}
	return entries, faults
}
