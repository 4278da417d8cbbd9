//go:build outside

package listen

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestOutsideQR: another program reads the link back out of the drawn code.
func TestOutsideQR(t *testing.T) {
	for _, link := range []string{"http://192.168.4.1:8460/join#012345678901", "https://crew-7.local:65535/join#larkwater1907", "https://[fe80::1]:8460/join#999999999999"} {
		code, err := NewQRCode(link)
		if err != nil {
			t.Fatal(err)
		}
		c := exec.CommandContext(t.Context(), "node", "qr.mjs")
		c.Dir, c.Stdin = filepath.Join("..", "..", "testdata", "reference"), strings.NewReader(modules(code.Lines(true)))
		if out, err := c.Output(); err != nil || string(out) != link {
			t.Errorf("%s: %v %q", link, err, out)
		}
	}
}
