"""Attacks through the folder itself: links, pipes, names, encodings of names."""

import os

from attacks import SOUND, attack


@attack("a link that leads to itself", "locates-loop|wrote")
def folder_link_loop(folder, scale):
    (folder / "locates-loop.csv").symlink_to(folder / "locates-loop.csv")


@attack("folders that link to each other below locates/", "wrote")
def folder_loop(folder, scale):
    (folder / "locates").mkdir()
    (folder / "locates" / "again").symlink_to(folder / "locates", target_is_directory=True)
    (folder / "locates" / "up").symlink_to(folder, target_is_directory=True)


@attack("a link to /etc/passwd named .csv", "locates-link.csv")
def folder_link_out(folder, scale):
    (folder / "locates-link.csv").symlink_to("/etc/passwd")


@attack("a link to an endless device named .csv", "locates-zero.csv|wrote")
def folder_device(folder, scale):
    (folder / "locates-zero.csv").symlink_to("/dev/zero")


@attack("a pipe that nobody writes to named .csv, .gpx and .xlsx", "wrote")
def folder_pipe(folder, scale):
    for suffix in ("csv", "gpx", "xlsx", "gpkg"):
        os.mkfifo(folder / f"locates-pipe.{suffix}")
    os.mkfifo(folder / "references.csv")
    (folder / "base").mkdir()
    os.mkfifo(folder / "base" / "x.geojson")


@attack("property.toml is a pipe", "property.toml", codes=(0, 1, 2))
def folder_pipe_toml(folder, scale):
    os.mkfifo(folder / "property.toml")


@attack("property.toml is a folder", "property.toml", codes=(0, 1, 2))
def folder_toml_folder(folder, scale):
    (folder / "property.toml").mkdir()


@attack("property.toml links to a device", "property.toml", codes=(0, 1, 2))
def folder_toml_device(folder, scale):
    (folder / "property.toml").symlink_to("/dev/zero")


@attack("file names of templates, line ends, quotes, emoji and 250 characters", "wrote")
def folder_names(folder, scale):
    (folder / "locates").mkdir()
    (folder / "base").mkdir()
    names = (
        "{{7*7}}.csv",
        "a\nb.csv",
        "a'b\"c.csv",
        "\U0001f4a7.csv",
        "x" * 240 + ".csv",
        "-o.csv",
        "[bold]x.csv",
        "a;rm -rf.csv",
        "<b>.csv",
        "=1+1.csv",
        " .csv",
    )
    for n, name in enumerate(names):
        (folder / "locates" / name).write_text(
            SOUND.replace("\nP", f"\nP{n}-")
            .replace(",A,", f",A{n},")
            .replace("V1", f"V{n}")
            .replace("C1", f"C{n}")
        )
    (folder / "base" / "{{7*7}}<script>.geojson").write_text(
        '{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-96.5,41.5]},"properties":{}}]}'
    )


@attack("a file name that is not UTF-8", "wrote", codes=(0, 1))
def folder_name_bytes(folder, scale):
    (folder / "locates").mkdir()
    with open(os.fsencode(folder / "locates") + b"/caf\xe9.csv", "w") as file:  # noqa: PTH123 - a name of bytes
        file.write(SOUND.replace("\nP", "\nQ").replace(",A,", ",B,").replace("V1", "V2"))


@attack("1,000 empty files", "empty")
def folder_many(folder, scale):
    (folder / "locates").mkdir()
    for n in range(1000):
        (folder / "locates" / f"f{n}.csv").touch()


@attack("folders 200 deep", "wrote")
def folder_deep(folder, scale):
    path = folder / "locates"
    for _ in range(200):
        path /= "d"
    path.mkdir(parents=True)
    (path / "x.csv").write_text(
        SOUND.replace("\nP", "\nQ").replace(",A,", ",B,").replace("V1", "V2")
    )


@attack("a folder named locates.csv", "no field locates", codes=(2,))
def folder_as_file(folder, scale):
    (folder / "locates.csv").unlink()
    (folder / "locates.csv").mkdir()


@attack("endings nobody knows, and none", "No reader knows")
def folder_endings(folder, scale):
    (folder / "locates").mkdir()
    for name in ("a.exe", "b", "c.pdf", "d.zip", "e.vrt", "f.sqlite", "g.xls"):
        (folder / "locates" / name).write_bytes(b"x")
