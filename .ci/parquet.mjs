// GeoParquet read by an engine of its own: counts, statistics and the place of a row
// beside results.csv. usage: node parquet.mjs FOLDER, beside node_modules.
import duckdb from '@duckdb/node-api';

const folder = process.argv[2];
const parquet = `'${folder}/results.parquet'`, csv = `read_csv('${folder}/results.csv', all_varchar = true)`;
const c = await (await duckdb.DuckDBInstance.create(':memory:')).connect();
const ask = async q => JSON.stringify((await c.runAndReadAll(q)).getRows(), (_, v) => typeof v === 'bigint' ? Number(v) : v);
let compared = 0;
for (const q of [
  "select count(*), count(geometry) from $",
  "select verdict, count(*) from $ where verdict is not null group by verdict order by verdict",
  "select round(sum(diff_mm::double), 6), min(diff_mm::double), max(diff_mm::double) from $",
  'select point, cell, reason, easting::double, northing::double from $ where verdict = \'fail\' order by "check", cell',
  "select file, count(*) from $ group by file order by file",
]) {
  const mine = await ask(q.replaceAll('$', parquet));
  // in the table of text what is placed has an easting
  const theirs = await ask(q.replaceAll('count(geometry)', 'count(easting)').replaceAll('$', csv));
  if (mine !== theirs) {
    console.error(`${q}\nparquet: ${mine.slice(0, 400)}\ncsv:     ${theirs.slice(0, 400)}`);
    process.exit(1);
  }
  compared++;
}
const type = await ask(`select column_type from (describe select geometry from ${parquet})`);
if (!type.includes('GEOMETRY') && !type.includes('BLOB')) {
  console.error(`the geometry is ${type}`);
  process.exit(1);
}
console.log(`parquet: ${compared} queries agree with results.csv; geometry ${type}`);
