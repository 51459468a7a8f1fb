package main

import (
	"context"
	"math"
	"time"

	"settlemark/db"
	"settlemark/internal/durable"
	"settlemark/internal/metrics"
	"settlemark/web/live"
)

// measured are the figures that this process shows; nil where nobody asks for any.
func measured(c config, d *db.DB, hub *live.Hub) *metrics.Metrics {
	if c.metrics == "" {
		return nil
	}
	m := metrics.New()
	m.Gauge("database_connections_used", "Connections to the database that are in use.", func() float64 {
		used, _, _ := d.Connections()
		return float64(used)
	})
	m.Gauge("database_connections_open", "Connections to the database that are open.", func() float64 {
		_, open, _ := d.Connections()
		return float64(open)
	})
	m.Gauge("database_connections_most", "Connections to the database that there may be.", func() float64 {
		_, _, most := d.Connections()
		return float64(most)
	})
	m.Gauge("database_replica_used", "1 while pages that may lag are read from the replica.", func() float64 {
		if d.ReadsFromReplica() {
			return 1
		}
		return 0
	})
	m.Gauge("event_streams", "Screens that watch live.", func() float64 { return float64(hub.Streams()) })
	m.Gauge("disk_free_bytes", "Room on the disk of the data folder.", func() float64 {
		free, _, err := durable.Room(c.data)
		return known(float64(free), err)
	})
	m.Gauge("log_waiting_leaves", "Leaves of the log that wait to be sealed.", func() float64 {
		state, err := d.LogState(context.Background())
		return known(float64(state.Waiting), err)
	})
	m.Gauge("log_waiting_seconds", "How long the oldest of them waits.", func() float64 {
		state, err := d.LogState(context.Background())
		if state.Since == nil {
			return known(0, err)
		}
		return known(time.Since(*state.Since).Seconds(), err)
	})
	m.Gauge("log_stopped", "1 while sealing is stopped until somebody looks.", func() float64 {
		state, err := d.LogState(context.Background())
		if state.StoppedAt != nil {
			return known(1, err)
		}
		return known(0, err)
	})
	return m
}

// known is a figure, or that it is not known.
func known(figure float64, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return figure
}
