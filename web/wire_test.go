package web_test

import (
	"bufio"
	"crypto/tls"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"
)

// A request that a program in front could cut apart in another way is the last
// of its connection, so nobody's request hides in it.
func TestWire(t *testing.T) {
	s := newSite(t)
	const hidden = "GET /clock HTTP/1.1\r\nHost: a\r\n\r\n"
	if got := s.raw(hidden + hidden); !slices.Equal(got, []int{200, 200}) {
		t.Fatalf("two plain requests: %v", got)
	}
	for name, head := range map[string]string{
		"a length and chunks":    "Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
		"chunks and a length":    "Transfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n0\r\n\r\n",
		"two lengths":            "Content-Length: 0\r\nContent-Length: 5\r\n\r\n",
		"two lengths in one":     "Content-Length: 0, 5\r\n\r\n",
		"a length with a sign":   "Content-Length: +0\r\n\r\n",
		"chunks of another name": "Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
		"chunks, named twice":    "Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
		"a space before a colon": "Transfer-Encoding : chunked\r\n\r\n0\r\n\r\n",
		"a bare LF in chunks":    "Transfer-Encoding: chunked\r\n\r\n0\n\n",
		"a size with a sign":     "Transfer-Encoding: chunked\r\n\r\n+0\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			if got := s.raw("POST /sign-in HTTP/1.1\r\nHost: a\r\n" + head + hidden); len(got) != 1 || got[0] < 400 {
				t.Errorf("answered %v, want one refusal", got)
			}
		})
	}
}

// raw sends bytes over a connection of its own and gives the statuses answered.
func (s *site) raw(request string) (statuses []int) {
	s.t.Helper()
	connection, err := tls.Dial("tcp", strings.TrimPrefix(s.server.URL, "https://"), s.server.Client().Transport.(*http.Transport).TLSClientConfig)
	s.must(err)
	defer connection.Close()
	s.must(connection.SetDeadline(time.Now().Add(2 * time.Second)))
	_, err = io.WriteString(connection, request)
	s.must(err)
	for answers := bufio.NewReader(connection); ; {
		a, err := http.ReadResponse(answers, nil)
		if err != nil {
			return statuses
		}
		_, _ = io.Copy(io.Discard, a.Body)
		statuses = append(statuses, a.StatusCode)
	}
}
