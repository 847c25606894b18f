/**
 * A process that records one tile after another until it is killed, going on where the records end. Run on the built files:
 * `node committer.mjs <url of the built daemon/records/index.js> <data folder> [tiles]`. Says the number of each tile once it is recorded;
 * with a number of tiles it ends after so many, without closing anything.
 */
const [url, directory, tilesWanted = 'Infinity'] = process.argv.slice(2);
const { cropFile, openRecords, tilePictureFile, writeDurably } = await import(url);

const records = openRecords(directory);
const runId = 'killed';
if (!records.run(runId)) {
  const tiles = Array.from({ length: 200 }, (_, index) => ({ index, chip: 'K', row: 0, column: index, centreUm: { xUm: 1, yUm: 2 } }));
  const chip = { name: 'K', outlineUm: [], scannedUm: [], focusPointsUm: [], tiles, areaMm2: 1 };
  const plan = { chips: [chip], tileCount: tiles.length, forecastS: 0, diskBytes: 0, fieldWidthUm: 1, fieldHeightUm: 1 };
  records.beginRun({ id: runId, title: 'killed', createdAtMs: 0, runSheetText: '', instrumentText: '', plan, state: 'preflight' });
}
const point = { xUm: 1, yUm: 2 };

function flake(n, bestTile) {
  return {
    id: `F-${n}`, chip: 'K', bestTile, tiles: [bestTile], centreUm: point, terraces: [], verdict: 'flagged', layers: 1, usableUm: 5, areaUm2: 20, rank: 1,
  };
}

/** Every tile brings one flake and reads the one before again; so after tile n, flake n-1 must say n and flake n must be there. */
async function commitOne(tile) {
  const pictureFile = tilePictureFile(runId, tile);
  const file = cropFile(runId, `F-${tile}`, 0);
  await writeDurably(`${directory}/${pictureFile}`, Buffer.alloc(3000, tile));
  await writeDurably(`${directory}/${file}`, Buffer.from(`crop ${tile}`));
  records.commitTile(runId, {
    tile: { tile, chip: 'K', outcome: 'done', centreUm: point, zUm: 0, takenAtMs: tile, sharpness: 1, substrate: [0.2], pictureFile, detections: [] },
    flakes: tile === 0 ? [flake(0, 0)] : [flake(tile - 1, tile), flake(tile, tile)],
    removedFlakes: [],
    crops: [{ flakeId: `F-${tile}`, tile, file, widthPx: 1, heightPx: 1, centreUm: point, cameraToStageUm: [1, 0, 0, 1] }],
  });
}

for (let tile = records.tiles(runId).length; tile < Number(tilesWanted); tile++) {
  await commitOne(tile);
  process.stdout.write(`${tile}\n`);
}
process.exit(0);
