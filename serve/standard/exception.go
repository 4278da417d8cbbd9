package standard

import (
	"fmt"
	"net/http"
)

// Codes of exceptions (OGC 07-057r7, tables 21, 26 and 27).
const (
	operationNotSupported    = "OperationNotSupported"
	missingParameterValue    = "MissingParameterValue"
	invalidParameterValue    = "InvalidParameterValue"
	versionNegotiationFailed = "VersionNegotiationFailed"
	tileOutOfRange           = "TileOutOfRange"
)

// exception is one thing that is wrong with a request.
type exception struct {
	Code    string
	Locator string // the parameter or the operation; "" = none
	Text    string
}

// exceptionReport is what is wrong with a request; there is at least one exception.
type exceptionReport []exception

func report(code, locator, format string, args ...any) exceptionReport {
	return exceptionReport{{code, locator, fmt.Sprintf(format, args...)}}
}

func (r exceptionReport) Error() string { return r[0].Locator + ": " + r[0].Text }

// Status is the HTTP status of the first exception. That of tileOutOfRange is
// from common practice; the others are in the tables of OGC 07-057r7.
func (r exceptionReport) Status() int {
	if r[0].Code == operationNotSupported {
		return http.StatusNotImplemented
	}
	return http.StatusBadRequest
}

// XML is the report (OGC 06-121r3, 8: OWS 1.1 ExceptionReport).
func (r exceptionReport) XML() ([]byte, error) { return fillXML("exceptions", r) }
