package pack

// Ticket is the one-call ticket. ValidUntil is its last valid day, YYYY-MM-DD,
// as the one-call center confirmed it; "" when not stated.
type Ticket struct {
	Number     string `json:"number"`
	ValidUntil string `json:"valid_until"`
}
