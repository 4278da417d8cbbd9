//go:build outside

package serve

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestOutsideCodeAsPassword: map programs that cannot join send the code as the password of
// HTTP Basic. GDAL and curl do, and without it get nothing.
func TestOutsideCodeAsPassword(t *testing.T) {
	base, _ := closed(t)
	overlay := base + "/packs/site-one/overlays/1-water.geojson"
	run := func(env string, name string, args ...string) (string, error) {
		c := exec.CommandContext(t.Context(), name, args...)
		c.Env = append(os.Environ(), env)
		out, err := c.CombinedOutput()
		return string(out), err
	}
	if out, err := run("GDAL_HTTP_USERPWD=gis:"+testCode, "ogrinfo", "-ro", "-al", overlay); err != nil || !strings.Contains(out, "POINT (-105.0005 40.0005)") {
		t.Errorf("GDAL with the code: %v %s", err, out)
	}
	for _, env := range []string{"GDAL_HTTP_USERPWD=", "GDAL_HTTP_USERPWD=gis:012345678900"} {
		if out, err := run(env, "ogrinfo", "-ro", "-al", overlay); err == nil || strings.Contains(out, "40.0005") {
			t.Errorf("GDAL with %s: %v %s", env, err, out)
		}
	}
	if out, err := run("X=", "curl", "-sS", "-f", "-u", "gis:012 345 678 901", overlay); err != nil || !strings.Contains(out, "40.0005") {
		t.Errorf("curl with the code: %v %s", err, out)
	}
	if out, err := run("X=", "curl", "-sS", "-f", overlay); err == nil || strings.Contains(out, "40.0005") {
		t.Errorf("curl without the code: %v %s", err, out)
	}
}
