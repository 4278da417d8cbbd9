package fetch_test

import (
	"io"
	"net/http"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
)

const (
	benchConns = 8
	benchDelay = 10 * time.Millisecond // of the server; the ceiling is connections / delay
)

// benchHost sends one photo-sized image after a delay.
func benchHost(b *testing.B, delay time.Duration) *host {
	data := picture(256, 9, true)
	return serve(b, func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(delay)
		w.Write(data)
	})
}

// BenchmarkRun is the whole way into the store; BenchmarkBareHTTP the same
// requests with the answers thrown away. Compare them within one run.
func BenchmarkRun(b *testing.B) {
	for name, delay := range map[string]time.Duration{"delay=0": 0, "delay=10ms": benchDelay} {
		b.Run(name, func(b *testing.B) {
			h := benchHost(b, delay)
			src := h.fast()
			src.Terms.RequestsPerSecond, src.Terms.Connections = 1e6, benchConns
			b.ResetTimer()
			if tally, err := run(src, shelf(b), row(uint32(b.N)), fetch.Options{}); err != nil || tally.New != b.N {
				b.Fatal(tally, err)
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "tiles/s")
		})
	}
}

func BenchmarkBareHTTP(b *testing.B) {
	for name, delay := range map[string]time.Duration{"delay=0": 0, "delay=10ms": benchDelay} {
		b.Run(name, func(b *testing.B) {
			h := benchHost(b, delay)
			client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: benchConns}}
			defer client.CloseIdleConnections()
			b.ResetTimer()
			bareLoop(b, client, h.URL)
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "tiles/s")
		})
	}
}

func bareLoop(b *testing.B, client *http.Client, url string) {
	jobs := make(chan struct{})
	var wg sync.WaitGroup
	for range benchConns {
		wg.Go(func() {
			for range jobs {
				resp, err := client.Get(url)
				if err != nil {
					b.Error(err)
					continue
				}
				io.Copy(io.Discard, resp.Body)
				resp.Body.Close()
			}
		})
	}
	for range b.N {
		jobs <- struct{}{}
	}
	close(jobs)
	wg.Wait()
}
