#!/bin/sh
# Makes the samples from the three GeoJSON files, with GDAL 3.6.2.
set -eu
cd "$(dirname "$0")"
rm -f *.shp *.dbf *.prj *.cpg *.kml *.kmz *.gpx *.csv
for code in 4326 4269 3857 26913 32613 2232; do
  ogr2ogr -f 'ESRI Shapefile' -t_srs "EPSG:$code" "site-$code.shp" site.geojson
  rm "site-$code.shx"
done
ogr2ogr -f 'ESRI Shapefile' -lco ENCODING=ISO-8859-1 routes.shp routes.geojson
ogr2ogr -f 'ESRI Shapefile' marks.shp marks.geojson
rm routes.shx marks.shx
ogr2ogr -f KML site.kml site.geojson
ogr2ogr -f KML routes.kml routes.geojson
ogr2ogr -f LIBKML marks.kmz marks.geojson
ogr2ogr -f GPX -nlt MULTILINESTRING -lco FORCE_GPX_TRACK=YES -sql 'SELECT Name AS name FROM routes' routes.gpx routes.geojson
ogr2ogr -f GPX -sql 'SELECT Name AS name, note AS "desc" FROM marks' marks.gpx marks.geojson
ogr2ogr -f CSV -lco GEOMETRY=AS_XY marks.csv marks.geojson
ogr2ogr -f CSV -lco GEOMETRY=AS_YX -lco SEPARATOR=SEMICOLON marks-semicolon.csv marks.geojson
rm -f *.gpkg *.dxf
ogr2ogr -f GPKG -t_srs EPSG:2231 -nlt GEOMETRY -nln dig site-2231.gpkg site.geojson
ogr2ogr -f GPKG -t_srs EPSG:6430 -nln routes two.gpkg routes.geojson
ogr2ogr -f GPKG -t_srs EPSG:6430 -nln marks -update two.gpkg marks.geojson
for kind in site routes marks; do ogr2ogr -f DXF -t_srs EPSG:2231 "$kind-2231.dxf" "$kind.geojson"; done
