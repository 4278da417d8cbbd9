package fetch

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"

	"groundsheet/tiles/measure"
)

// broken sorts the errors of the network. ctx is the run's own: when it has
// ended, that is the error.
func (r *run) broken(ctx context.Context, err error) (*trouble, error) {
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	err = bare(err)
	if untrusted(err) {
		return nil, r.stopped(StopTLS, "the host cannot prove who it is", err,
			"check the clock of this computer and the address in sources.toml; a sign-in page on the network causes it too")
	}
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case errors.As(err, &dns):
		return &trouble{why: "the host name cannot be looked up: " + err.Error(), err: err, unreachable: true, outage: true}, nil
	case errors.As(err, &op) && op.Op == "dial":
		return &trouble{why: err.Error(), err: err, unreachable: true, outage: true}, nil
	case errors.Is(err, context.DeadlineExceeded):
		return &trouble{why: fmt.Sprintf("no whole answer within %s", measure.Duration(r.o.Timeout)), err: err, outage: true}, nil
	}
	return &trouble{why: "the connection broke: " + unquoted(err.Error()), err: err, outage: true}, nil
}

// untrusted reports whether TLS itself refused the host.
func untrusted(err error) bool {
	var cert *tls.CertificateVerificationError
	var authority x509.UnknownAuthorityError
	var name x509.HostnameError
	var invalid x509.CertificateInvalidError
	var record tls.RecordHeaderError
	var alert tls.AlertError
	return errors.As(err, &cert) || errors.As(err, &authority) || errors.As(err, &name) ||
		errors.As(err, &invalid) || errors.As(err, &record) || errors.As(err, &alert)
}

// unquoted ends a text before its first quotation: what net/http quotes are
// the source's own words, perhaps a piece of the request.
func unquoted(text string) string {
	before, _, _ := strings.Cut(text, `"`)
	return strings.TrimRight(before, ": ")
}

// bare drops the URL, and with it the key, that url.Error repeats.
func bare(err error) error {
	var ue *url.Error
	if errors.As(err, &ue) {
		return ue.Err
	}
	return err
}
