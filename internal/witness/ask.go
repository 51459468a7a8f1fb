package witness

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/ledger"
)

// OtherSizeError says that the witness saw another size last: ask again from there.
type OtherSizeError struct{ Size int64 }

func (e *OtherSizeError) Error() string { return fmt.Sprintf("the witness saw %d leaves last", e.Size) }

// RefusedError says that the witness has cosigned what the checkpoint does not
// continue: there are two logs under one name.
type RefusedError struct{ Why string }

func (e *RefusedError) Error() string { return e.Why }

// client follows no redirects and waits for nobody long.
var client = &http.Client{
	Timeout:       10 * time.Second,
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
}

// Ask asks the witness at the address to cosign, and gives its signature lines.
func Ask(ctx context.Context, address string, s ledger.Submission) ([]byte, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, address+"/add-checkpoint", bytes.NewReader(s.Text()))
	if err != nil {
		return nil, err
	}
	answer, err := client.Do(request)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close() //nolint:errcheck // read to its end
	text, err := io.ReadAll(io.LimitReader(answer.Body, maxSubmission))
	if err != nil {
		return nil, err
	}
	switch answer.StatusCode {
	case http.StatusOK:
		return text, nil
	case http.StatusConflict:
		size, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
		if err == nil && size >= 0 && size != s.Old {
			return nil, &OtherSizeError{size}
		}
		if err == nil && size == s.Old {
			return nil, &RefusedError{fmt.Sprintf("of %d leaves it has seen others", size)}
		}
	case http.StatusUnprocessableEntity:
		return nil, &RefusedError{fmt.Sprintf("the checkpoint does not continue the %d leaves that it has seen", s.Old)}
	}
	return nil, fmt.Errorf("the witness answers %s: %.200s", answer.Status, text)
}
