//go:build race

package brief

import (
	"os"
	"testing"
)

func TestMain(m *testing.M) {
	perInch = 50
	os.Exit(m.Run())
}
