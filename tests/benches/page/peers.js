// The same work done by other libraries, each the way its own documentation shows for speed.
"use strict";

window.peers = (() => {
  let columns = [];
  let charts = [];
  const chosen = () => document.getElementById("file").files[0];

  const typedColumns = (text) => uDSV.initParser(uDSV.inferSchema(text)).typedCols(text);
  const timed = async (work) => {
    const start = performance.now();
    const result = await work();
    return [performance.now() - start, result];
  };

  // Milliseconds: cold with reading, then each of `rounds` with the text in hand.
  const parseUdsv = async (rounds) => {
    const [cold] = await timed(async () => typedColumns(await chosen().text()));
    const text = await chosen().text();
    const warm = [];
    for (let round = 0; round < rounds; round += 1) {
      const [ms, parsed] = await timed(() => typedColumns(text));
      warm.push(ms);
      columns = parsed;
    }
    const numbers = columns.filter((column) => typeof column.at(-1) === "number").length;
    return { cold, warm, rows: columns[0].length, columns: numbers };
  };
  const parsePapa = async (rounds) => {
    const text = await chosen().text();
    const warm = [];
    for (let round = 0; round < rounds; round += 1) {
      const [ms, { data }] = await timed(() => Papa.parse(text, { dynamicTyping: true, skipEmptyLines: true }));
      if (typeof data.at(-1).at(-1) !== "number") throw new Error("PapaParse read no numbers");
      warm.push(ms);
    }
    return { warm };
  };

  const extent = (values) => {
    let [low, high] = [Infinity, -Infinity];
    for (const value of values) {
      if (value < low) low = value;
      if (value > high) high = value;
    }
    return high > low ? [low, high] : [low, low + 1];
  };
  // One chart a channel, nothing but the line: no axes, legend or cursor to draw. Milliseconds to make them all.
  const makeCharts = async (width, height, count) => {
    charts.forEach((chart) => chart.destroy());
    const place = document.getElementById("charts");
    const ranges = columns.slice(1, count + 1).map(extent);
    const start = performance.now();
    charts = ranges.map((range, i) => {
      const options = {
        width,
        height,
        legend: { show: false },
        cursor: { show: false },
        axes: [{ show: false }, { show: false }],
        padding: [0, 0, 0, 0],
        scales: { x: { time: false }, y: { auto: false, range } },
        series: [{}, { stroke: "#0072b2", width: 1, points: { show: false } }],
      };
      return new uPlot(options, [columns[0], columns[i + 1]], place);
    });
    await new Promise((done) => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = done;
      port2.postMessage(null);
    });
    return performance.now() - start;
  };

  const panned = (seconds, width) => {
    const time = columns[0];
    const whole = time[time.length - 1] - time[0];
    let start = time[0] + Math.min(whole - seconds, whole / 2 - seconds / 2) * 0.5;
    return (i) => {
      start += (4 / width) * seconds * direction(i);
      return [start, start + seconds];
    };
  };
  const pan = (seconds, width, count) => {
    const next = panned(seconds, width);
    return timeFrames(count, (i) => {
      const [min, max] = next(i);
      for (const chart of charts) chart.setScale("x", { min, max });
    });
  };

  // Lowest and highest sample of each pixel column, as two points on it.
  const envelope = (values, [min, max], width) => {
    const time = columns[0];
    const rate = (time.length - 1) / (time[time.length - 1] - time[0]);
    const xs = new Float64Array(2 * width);
    const ys = new Float64Array(2 * width);
    for (let column = 0; column < width; column += 1) {
      const t = min + ((max - min) * column) / width;
      const from = Math.max(0, Math.floor((t - time[0]) * rate));
      const to = Math.min(values.length, Math.max(from + 1, Math.ceil((t + (max - min) / width - time[0]) * rate)));
      let [low, high] = [Infinity, -Infinity];
      for (let i = from; i < to; i += 1) {
        if (values[i] < low) low = values[i];
        if (values[i] > high) high = values[i];
      }
      xs[2 * column] = xs[2 * column + 1] = t;
      ys[2 * column] = low;
      ys[2 * column + 1] = high;
    }
    return [xs, ys];
  };
  const panEnvelope = (seconds, width, count) => {
    const next = panned(seconds, width);
    let view = [0, 1];
    let made = [];
    const prepare = (i) => {
      view = next(i);
      made = charts.map((_, c) => envelope(columns[c + 1], view, width));
    };
    const draw = () => {
      const [min, max] = view;
      charts.forEach((chart, c) => {
        chart.batch(() => {
          chart.setData(made[c], false);
          chart.setScale("x", { min, max });
        });
      });
    };
    return timeFrames(count, draw, prepare).then((times) => {
      charts.forEach((chart, c) => chart.setData([columns[0], columns[c + 1]], false));
      return times;
    });
  };
  return { parseUdsv, parsePapa, makeCharts, pan, panEnvelope };
})();
