"""CPU seconds of general-purpose libraries over the terrain that the sweep is measured on.

Prints one JSON object. Arguments: the terrain as GeoTIFF, longitude and latitude of the mast, radius in metres.

pycraf (PyPI): the compiled fast map of ITU-R P.452, attenuation alone and with the preparation of height
profiles, one thread, profiles of 30 m. GDAL: its viewshed, net of what any GDAL program takes to start.
"""

import contextlib
import io
import json
import os
import pathlib
import resource
import subprocess
import sys
import tempfile
import time
import warnings

os.environ["OMP_NUM_THREADS"] = "1"
warnings.simplefilter("ignore")


def shell(*command):
    subprocess.run([str(c) for c in command], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def children_cpu_s():
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def least_cpu_s(command, times):
    least = float("inf")
    for _ in range(times):
        before = children_cpu_s()
        shell(*command)
        least = min(least, children_cpu_s() - before)
    return least


def viewshed(terrain, lon, lat, radius_m, folder):
    out = subprocess.run(
        ["gdaltransform", "-s_srs", "EPSG:4326", "-t_srs", "EPSG:32611"],
        input=f"{lon} {lat}\n", text=True, check=True, capture_output=True,
    ).stdout.split()
    x, y = float(out[0]), float(out[1])
    seen = folder / "seen.tif"
    command = ["gdal_viewshed", "-q", "-ox", x, "-oy", y, "-oz", 30, "-tz", 6, "-md", radius_m, "-cc", 0.75,
               "-vv", 1, "-iv", 0, "-ov", 255, "-a_nodata", 255, terrain, seen]
    whole = least_cpu_s(command, 15)
    start = least_cpu_s(["gdalinfo", terrain], 15)
    version = subprocess.run(["gdalinfo", "--version"], text=True, capture_output=True).stdout.split(",")[0]
    return {"version": version, "cpu_s": whole, "start_cpu_s": start}


def fast_map(terrain, lon, lat, radius_m, folder):
    import pycraf
    from astropy import units as u
    from pycraf import pathprof

    # The same terrain at one second of arc, as the library reads it.
    west, south = int(lon // 1), int(lat // 1)
    tile = folder / f"{'N' if south >= 0 else 'S'}{abs(south):02}{'E' if west >= 0 else 'W'}{abs(west):03}.hgt"
    half = 0.5 / 3600
    shell("gdalwarp", "-q", "-t_srs", "EPSG:4326", "-te", west - half, south - half, west + 1 + half, south + 1 + half,
          "-ts", 3601, 3601, "-r", "bilinear", "-ot", "Int16", "-of", "GTiff", terrain, folder / "tile.tif")
    shell("gdal_translate", "-q", "-of", "SRTMHGT", folder / "tile.tif", tile)
    pathprof.set_num_threads(1)
    size = 2 * radius_m / 111_200
    best = None
    with pathprof.SrtmConf.set(srtm_dir=str(folder)), contextlib.redirect_stdout(io.StringIO()):
        pathprof.srtm_height_data(lon * u.deg, lat * u.deg)  # The tile is read before the clock starts.
        for _ in range(2):
            times = [time.process_time()]
            # The library's profiles have a step of 10 m for every second of arc between pixels.
            profiles = pathprof.height_map_data(
                lon * u.deg, lat * u.deg, size * u.deg, size * u.deg, map_resolution=3 / 3600 * u.deg)
            times.append(time.process_time())
            losses = pathprof.atten_map_fast(
                3.6 * u.GHz, 290 * u.K, 1013 * u.hPa, 30 * u.m, 6 * u.m, 50 * u.percent, profiles)
            times.append(time.process_time())
            found = {"receivers": int(losses["L_b"].size), "profiles_cpu_s": times[1] - times[0],
                     "attenuation_cpu_s": times[2] - times[1], "step_m": float(profiles["hprof_step"]),
                     "median_loss_db": float(sorted(losses["L_b"].value.ravel())[losses["L_b"].size // 2])}
            if best is None or found["attenuation_cpu_s"] < best["attenuation_cpu_s"]:
                best = found
    return {"version": pycraf.__version__, **best}


def main():
    terrain, lon, lat, radius_m = pathlib.Path(sys.argv[1]), *(float(a) for a in sys.argv[2:5])
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        answer = {"viewshed": viewshed(terrain, lon, lat, radius_m, folder),
                  "fast_map": fast_map(terrain, lon, lat, radius_m, folder)}
    print(json.dumps(answer))


main()
