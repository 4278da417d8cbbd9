module groundsheet

go 1.26.0

require (
	codeberg.org/go-pdf/fpdf v0.12.0
	github.com/disintegration/imaging v1.6.2
	github.com/hashicorp/golang-lru/v2 v2.0.7
	github.com/inconshreveable/mousetrap v1.1.0
	github.com/jackc/pgx/v5 v5.12.0
	github.com/mattn/go-sqlite3 v1.14.53
	github.com/paulmach/orb v0.14.0
	github.com/pelletier/go-toml/v2 v2.4.3
	github.com/peterstace/simplefeatures v0.50.0
	github.com/pion/mdns/v2 v2.2.2
	github.com/rogpeppe/go-internal v1.16.0
	github.com/spf13/cobra v1.10.2
	github.com/spf13/pflag v1.0.9
	github.com/vbauerster/mpb/v8 v8.16.2
	go.bug.st/serial v1.8.0
	golang.org/x/image v0.43.0
	golang.org/x/net v0.62.0
	golang.org/x/sync v0.25.0
	golang.org/x/sys v0.50.0
	golang.org/x/term v0.48.0
	golang.org/x/text v0.44.0
	golang.org/x/time v0.16.0
	google.golang.org/protobuf v1.36.12
	rsc.io/qr v0.2.0
)

require (
	github.com/VividCortex/ewma v1.2.0 // indirect
	github.com/acarl005/stripansi v0.0.0-20180116102854-5a71ef0e047d // indirect
	github.com/clipperhouse/uax29/v2 v2.7.0 // indirect
	github.com/jackc/pgpassfile v1.0.0 // indirect
	github.com/jackc/pgservicefile v0.0.0-20240606120523-5a60cdf6a761 // indirect
	github.com/jackc/puddle/v2 v2.2.3 // indirect
	github.com/mattn/go-runewidth v0.0.30 // indirect
	github.com/pion/logging v0.2.4 // indirect
	github.com/vbauerster/cupwriter v0.0.5 // indirect
	go.mongodb.org/mongo-driver/v2 v2.5.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
)
