package certificate_test

import (
	"bytes"
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"settlemark/internal/certificate"
)

// sweep flips one bit at each of the offsets and gives those at which nobody
// noticed.
func sweep(trust certificate.Trust, pdf []byte, offsets []int) (unnoticed []int) {
	var mu sync.Mutex
	var workers sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			own := bytes.Clone(pdf)
			for at := range next {
				own[at] ^= 1 << (at % 8)
				if v := trust.Verify(own).Verdict; v != certificate.Altered && v != certificate.NotOurs {
					mu.Lock()
					unnoticed = append(unnoticed, at)
					mu.Unlock()
				}
				own[at] ^= 1 << (at % 8)
			}
		})
	}
	for _, at := range offsets {
		next <- at
	}
	close(next)
	workers.Wait()
	return unnoticed
}

// One flipped bit anywhere is found: at every offset of a small file, at a
// sample of a large one.
func TestEveryByteCounts(t *testing.T) {
	for _, c := range []struct {
		name string
		make making
		step int
	}{{"small, every offset", small, 1}, {"large, every 53rd offset", everything, 53}} {
		t.Run(c.name, func(t *testing.T) {
			h := newHouse(t, origin, siteSigner)
			in, photos := c.make(t)
			pdf := h.issue(h.release(in), photos)
			trust := h.trust(list())
			if r := trust.Verify(pdf); r.Verdict != certificate.Genuine {
				t.Fatal(r.Text())
			}
			var offsets []int
			for at := 0; at < len(pdf); at += c.step {
				offsets = append(offsets, at)
			}
			begun := time.Now()
			unnoticed := sweep(trust, pdf, offsets)
			each := time.Since(begun) / time.Duration(len(offsets))
			begun = time.Now()
			trust.Verify(pdf)
			fmt.Printf("figure: %d bytes, %d flipped, %d found; %s a flipped file, %s the genuine one\n",
				len(pdf), len(offsets), len(offsets)-len(unnoticed), each.Round(time.Microsecond), time.Since(begun).Round(100*time.Microsecond))
			if len(unnoticed) > 0 {
				t.Errorf("not noticed at %v", unnoticed[:min(10, len(unnoticed))])
			}
		})
	}
}
