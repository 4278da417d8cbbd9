package standard

import (
	"fmt"
	"net/http"
)

// Codes of exceptions (OGC 07-057r7, tables 21, 26 and 27).
const (
	OperationNotSupported    = "OperationNotSupported"
	MissingParameterValue    = "MissingParameterValue"
	InvalidParameterValue    = "InvalidParameterValue"
	VersionNegotiationFailed = "VersionNegotiationFailed"
	TileOutOfRange           = "TileOutOfRange"
	NoApplicableCode         = "NoApplicableCode"
)

// Exception is one thing that is wrong with a request.
type Exception struct {
	Code    string
	Locator string // the parameter or the operation; "" = none
	Text    string
}

// Report is what is wrong with a request; there is at least one exception.
type Report []Exception

func report(code, locator, format string, args ...any) Report {
	return Report{{code, locator, fmt.Sprintf(format, args...)}}
}

func (r Report) Error() string { return r[0].Locator + ": " + r[0].Text }

// Status is the HTTP status of the first exception. That of TileOutOfRange is
// from common practice; the others are in the tables of OGC 07-057r7.
func (r Report) Status() int {
	switch r[0].Code {
	case OperationNotSupported:
		return http.StatusNotImplemented
	case NoApplicableCode:
		return http.StatusInternalServerError
	}
	return http.StatusBadRequest
}

// XML is the report (OGC 06-121r3, 8: OWS 1.1 ExceptionReport).
func (r Report) XML() ([]byte, error) { return fillXML("exceptions", r) }
