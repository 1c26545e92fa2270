"""Compares what the runs of a study folder take on the disk with what pyarrow writes for the same table.

    python size.py STUDY_FOLDER

pyarrow writes one file with the same encodings: byte stream split for numbers, delta for whole ones, dictionaries for text, zstd at level
1, row groups of as many rows. Its fastest defaults (dictionaries for everything, snappy) stand beside.
"""

import glob
import os
import sys
import tempfile

import pyarrow as pa
import pyarrow.parquet as pq

ALLOWED = 1.10


def main():
    parts = sorted(glob.glob(os.path.join(sys.argv[1], "runs", "*.parquet")))
    table = pa.concat_tables([pq.read_table(p) for p in parts])
    table = table.sort_by("run").replace_schema_metadata(pq.read_schema(parts[0]).metadata)
    group = max(pq.ParquetFile(p).metadata.row_group(0).num_rows for p in parts)
    ours = sum(map(os.path.getsize, parts))
    encodings = {}
    for f in table.schema:
        if pa.types.is_floating(f.type):
            encodings[f.name] = "BYTE_STREAM_SPLIT"
        elif pa.types.is_integer(f.type):
            encodings[f.name] = "DELTA_BINARY_PACKED"
    text = [f.name for f in table.schema if pa.types.is_string(f.type)]
    with tempfile.TemporaryDirectory() as work:
        size = {}
        for name, options in {
            "the same encodings": {"use_dictionary": text, "column_encoding": encodings, "compression": "zstd", "compression_level": 1},
            "pyarrow's defaults": {},
        }.items():
            path = os.path.join(work, "one.parquet")
            pq.write_table(table, path, row_group_size=group, write_page_checksum=True, **options)
            size[name] = os.path.getsize(path)
    print(f"{table.num_rows} rows of {table.num_columns} columns in {len(parts)} parts, row groups of {group}; pyarrow {pa.__version__}")
    print(f"{'trammel':20} {ours:12d} bytes {ours / table.num_rows:8.1f} a row")
    for name, n in size.items():
        print(f"{name:20} {n:12d} bytes {n / table.num_rows:8.1f} a row   trammel takes {ours / n:.3f} of it")
    if ours > ALLOWED * size["the same encodings"]:
        sys.exit(f"more than {ALLOWED} of what pyarrow writes")


if __name__ == "__main__":
    main()
