// Package auth decides who may come in to the field server. It wraps the whole
// server: nothing behind it answers anybody it has not let in.
//
// # Who comes in
//
// A listener on loopback is open: only this machine reaches it. On any other
// address a join code is asked for. There are two: one lets its holder look, the
// other also write marks ([Role]). A right code is changed for a session in a
// cookie, signed by a key that is kept here, so that phones stay in when the
// server is started again. The signature covers the code: a new code ends every
// session of the old one. Map programs that keep no cookie send the code as the
// password of HTTP Basic (RFC 7617), with any user name.
//
// The link and the QR code carry the join code in the fragment, /join#CODE. A
// fragment is never sent: not in a request, so it is in no log, and not as a
// referrer. The join page takes it out of the address before it uses it.
//
// # What a code is worth
//
// A made code has twelve digits, like a long telephone number: a phone shows its number
// pad for it, it can be read aloud, and no two digits look alike. That is 10^12.
// A code lives for 7 days, and a guess is right for either of two codes.
//
// Wrong codes are counted for each address: five are free, then each makes its
// address wait 3 s, in which no code of it is looked at. Equal wrong codes
// from one address count once: a map program goes on sending the old code. What
// proved right is known by address and code, and comes in whatever else its address says.
//
// The first try of an address is its own. All other tries of a family share
// places: 400 a second for IPv4, 100 for IPv6. A first try comes back after an hour without
// a wrong code, and at most 65,536 addresses of IPv4 (a network of /16) and 4,096 of IPv6
// (254 of each /64) are remembered; those there is no room for share the places too.
//
//	shared    7 d × 86,400 s × (400 + 100)  = 302,400,000
//	first     169 h × (65,536 + 4,096)      =  11,767,808
//	chance    2 × 314,167,808 / 10^12       = 1 in 1,591 for the whole life of a code
//
// That holds for any number of addresses. A server that is not started again for longer
// keeps its codes, and adds as much with each 7 days. Each start of the server gives first tries
// anew: a thousand starts a week would add 1 in 7,000. What somebody with so many can do
// to others:
//
//   - Nobody who is in is asked again, and no program that proved its code.
//   - A newcomer at an address that nobody guessed from in the last hour comes in at once, as
//     long as fewer than 65,536 addresses were used for guessing.
//   - At an address that was guessed from, the newcomer waits 3 s at most, as long as all
//     who guess have no more than 1,200 addresses (400 a second × 3 s): more than a
//     network of /22 has. With more, the wait is a matter of luck.
//   - Whoever guesses from the newcomer's own address, as behind one router or tunnel, can
//     keep it out. So can, on IPv6 alone, who takes addresses without end, in the same
//     /64; then the address with numbers that the laptop shows, which is IPv4, leads in.
//
// A code that somebody chose has twelve letters or digits or more. It is worth as much as the
// choice was random: 314 million tries in a week find most words that go together.
// The lengths, rates and times here are the project's own choice, no source.
//
// # One phone is one phone
//
// Who is in is counted by session and by address ([Phone]): so many requests run at once,
// and more wait ([Turns]). An address that is in has places kept among the
// connections; when there are too many, strangers' go first, of those the silent ones, the oldest
// first. For all this an IPv6 address stands for its /64, which counts as eight phones; this
// machine's own address has no limit, since all who come by a tunnel have it.
//
// # What else is refused
//
// A host name that is not this server's own (DNS rebinding), requests that
// another site's page causes and that change something, other methods, large
// bodies and headers, slow senders, too many connections.
//
// The questions by which phones find out whether a Wi-Fi has internet go to host
// names of their makers. They are refused like every strange name: an honest
// answer (RFC 8908) needs a public certificate, which a hotspot without
// internet does not have, and the makers' answers are not ours to give.
//
// Strict-Transport-Security is never sent: it does not hold for numeric addresses
// (RFC 6797, 8.1.1), and it would shut phones out on a day without HTTPS.
package auth
