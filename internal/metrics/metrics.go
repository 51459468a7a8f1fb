// Package metrics counts for Prometheus what the program does and how it
// stands. It knows nothing of what it counts, and no name or reading ever
// becomes a label.
package metrics

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Metrics are those of one process.
type Metrics struct {
	registry *prometheus.Registry
	requests *prometheus.HistogramVec
}

// New begins counting, with what Go and the operating system say of the process.
func New() *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "settlemark_http_request_seconds", Help: "How long requests took, by route and status; event streams take as long as they are watched.",
			Buckets: []float64{.005, .02, .05, .1, .25, 1, 5, 30},
		}, []string{"method", "route", "status"}),
	}
	m.registry.MustRegister(m.requests, collectors.NewGoCollector(), collectors.NewBuildInfoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Request counts one. Route is the pattern in the table of routes, never what was asked for.
func (m *Metrics) Request(method, route string, status int, took time.Duration) {
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
}

// Gauge is read whenever somebody asks for the metrics; NaN says that it is not known.
func (m *Metrics) Gauge(name, help string, read func() float64) {
	m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "settlemark_" + name, Help: help}, read))
}

// Handler shows everything in the format of Prometheus.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}
