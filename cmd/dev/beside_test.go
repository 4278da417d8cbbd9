package main

import (
	"context"
	"strings"
	"testing"
	"time"
)

// Each program ends only when the other runs too; what failed is named.
func TestBeside(t *testing.T) {
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	meet := func(mine, other, last string) []string {
		return []string{"sh", "-c", "touch " + mine + "; until [ -e " + other + " ]; do sleep 0.05; done; " + last}
	}
	err := repo{}.beside(ctx, t.TempDir(), meet("a", "b", "true"), meet("b", "a", "echo FAIL the second; exit 1"))
	if err == nil || !strings.Contains(err.Error(), "FAIL the second") || strings.Contains(err.Error(), "touch a") {
		t.Error(err)
	}
}
