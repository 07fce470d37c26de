//! Finding a graphics processor and making its programs.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use sweep::{Coverage, CoverageGrid, GridSweeper, Ground, SweepError, Watch};
use wgpu::{
    Backends, BindGroupLayout, BindGroupLayoutDescriptor, BindGroupLayoutEntry, BindingType,
    BufferBindingType, ComputePipeline, ComputePipelineDescriptor, Device, DeviceDescriptor,
    DeviceType, Features, Instance, InstanceDescriptor, PipelineCompilationOptions, Queue,
    SamplerBindingType, ShaderModule, ShaderSource, ShaderStages, TextureSampleType,
    TextureViewDimension,
};

use crate::memory::Memory;
use crate::run::GpuError;

/// Which adapters are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Adapters {
    /// Real ones.
    Hardware,
    /// A program that plays one too, where there is no real one; slower than
    /// the processor by itself.
    WithSoftware,
}

/// There is no graphics processor to use.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoGpu {
    /// No adapter at all.
    #[error(
        "no graphics adapter here\nhint: a Vulkan driver and its loader (libvulkan) are needed"
    )]
    None,
    /// Adapters, but none that will do.
    #[error("no graphics adapter here will do: {0}")]
    Unsuited(String),
}

/// A graphics processor and its programs.
pub struct Gpu {
    pub(crate) device: Device,
    pub(crate) queue: Queue,
    pub(crate) layouts: [BindGroupLayout; 2],
    /// One run at a time; what it needed is kept for the next.
    pub(crate) memory: Mutex<Option<Memory>>,
    /// What went wrong inside a driver, to be told at the end of a run.
    pub(crate) faults: Arc<Mutex<Option<String>>>,
    name: String,
    module: ShaderModule,
    pipelines: Mutex<BTreeMap<Variant, ComputePipeline>>,
    handed_on: Mutex<Option<String>>,
}

/// A form of the program; what it leaves out costs nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Variant {
    pub(crate) with_cover: bool,
    pub(crate) own_lattice: bool,
    pub(crate) with_zones: bool,
    pub(crate) any_time: bool,
    /// Words for a cell.
    pub(crate) words: u32,
}

impl Variant {
    /// Polynomials of a row of cells, of seven terms each.
    pub(crate) fn row_functions(self) -> usize {
        if self.own_lattice { 6 } else { 4 }
    }
}

/// Side of the square of cells that is worked on together.
pub(crate) const SIDE: u32 = 8;

impl Gpu {
    /// Opens the most able adapter.
    ///
    /// # Errors
    /// [`NoGpu`].
    pub fn open(adapters: Adapters) -> Result<Self, NoGpu> {
        let instance = Instance::new(InstanceDescriptor {
            backends: Backends::VULKAN,
            ..InstanceDescriptor::new_without_display_handle()
        });
        let all = pollster::block_on(instance.enumerate_adapters(Backends::VULKAN));
        if all.is_empty() {
            return Err(NoGpu::None);
        }
        let mut unsuited = Vec::new();
        let mut suited = Vec::new();
        for adapter in all {
            let info = adapter.get_info();
            match rank(&adapter, adapters) {
                Ok(rank) => suited.push((rank, adapter)),
                Err(why) => unsuited.push(format!("{} {why}", info.name)),
            }
        }
        suited.sort_by_key(|(rank, _)| *rank);
        let Some((_, adapter)) = suited.into_iter().next() else {
            return Err(NoGpu::Unsuited(unsuited.join("; ")));
        };
        let name = adapter.get_info().name;
        let wanted = DeviceDescriptor {
            label: None,
            required_features: Features::SHADER_F64,
            required_limits: adapter.limits(),
            ..DeviceDescriptor::default()
        };
        let opened = pollster::block_on(adapter.request_device(&wanted));
        let (device, queue) =
            opened.map_err(|e| NoGpu::Unsuited(format!("{name} does not open: {e}")))?;
        Ok(Self::new(device, queue, name))
    }

    fn new(device: Device, queue: Queue, name: String) -> Self {
        let faults = Arc::new(Mutex::new(None));
        let told = Arc::clone(&faults);
        device.on_uncaptured_error(Arc::new(move |error: wgpu::Error| {
            let mut first = told.lock().unwrap_or_else(PoisonError::into_inner);
            first.get_or_insert_with(|| error.to_string());
        }));
        let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
            label: Some("own bearings"),
            source: ShaderSource::Wgsl(include_str!("own_bearing.wgsl").into()),
        });
        Self {
            layouts: layouts(&device),
            memory: Mutex::new(None),
            pipelines: Mutex::new(BTreeMap::new()),
            handed_on: Mutex::new(None),
            device,
            queue,
            faults,
            name,
            module,
        }
    }

    /// The adapter's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Why the last request that was not for this adapter was handed on to the
    /// processor; forgotten by asking.
    pub fn handed_on(&self) -> Option<String> {
        let mut told = self.handed_on.lock();
        told.as_mut().map_or(None, |told| told.take())
    }

    pub(crate) fn pipeline(&self, variant: Variant) -> ComputePipeline {
        let mut kept = self
            .pipelines
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let make = || self.make_pipeline(variant);
        kept.entry(variant).or_insert_with(make).clone()
    }

    fn make_pipeline(&self, variant: Variant) -> ComputePipeline {
        let is = |flag: bool| f64::from(u8::from(flag));
        let [cells, band] = &self.layouts;
        let layout = self
            .device
            .create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: None,
                bind_group_layouts: &[Some(cells), Some(band)],
                immediate_size: 0,
            });
        self.device
            .create_compute_pipeline(&ComputePipelineDescriptor {
                label: Some("own bearings"),
                layout: Some(&layout),
                module: &self.module,
                entry_point: Some("own_bearing"),
                compilation_options: PipelineCompilationOptions {
                    constants: &[
                        ("WITH_COVER", is(variant.with_cover)),
                        ("OWN_LATTICE", is(variant.own_lattice)),
                        ("WITH_ZONES", is(variant.with_zones)),
                        ("ANY_TIME", is(variant.any_time)),
                        ("WORDS", f64::from(variant.words)),
                        (
                            "ROW_TERMS",
                            (variant.row_functions() * sweep::tables::NODES) as f64,
                        ),
                        ("SIDE_X", f64::from(SIDE)),
                        ("SIDE_Y", f64::from(SIDE)),
                    ],
                    zero_initialize_workgroup_memory: false,
                },
                cache: None,
            })
    }
}

impl GridSweeper for Gpu {
    fn sweep(
        &self,
        grid: &CoverageGrid<'_>,
        ground: Ground<'_>,
        watch: &dyn Watch,
    ) -> Result<Coverage, SweepError> {
        let why = match self.own_bearings(grid, ground, watch) {
            Ok(coverage) => return Ok(coverage),
            Err(GpuError::Sweep(error)) => return Err(error),
            Err(other) => other.to_string(),
        };
        if let Ok(mut told) = self.handed_on.lock() {
            *told = Some(why);
        }
        grid.sweep(ground, watch)
    }
}

/// Lower is better, or why an adapter will not do.
fn rank(adapter: &wgpu::Adapter, adapters: Adapters) -> Result<u8, &'static str> {
    if !adapter.features().contains(Features::SHADER_F64) {
        return Err("has no double precision");
    }
    match adapter.get_info().device_type {
        DeviceType::DiscreteGpu => Ok(0),
        DeviceType::VirtualGpu => Ok(1),
        DeviceType::IntegratedGpu => Ok(2),
        DeviceType::Other => Ok(3),
        DeviceType::Cpu if adapters == Adapters::WithSoftware => Ok(4),
        DeviceType::Cpu => Err("is no hardware"),
    }
}

/// What the program is given: all of a request, and the rows of a dispatch.
fn layouts(device: &Device) -> [BindGroupLayout; 2] {
    let buffer = |ty, has_dynamic_offset| BindingType::Buffer {
        ty,
        has_dynamic_offset,
        min_binding_size: None,
    };
    let read = BufferBindingType::Storage { read_only: true };
    let write = BufferBindingType::Storage { read_only: false };
    let texture = |sample_type| BindingType::Texture {
        sample_type,
        view_dimension: TextureViewDimension::D2,
        multisampled: false,
    };
    let layout = |types: &[BindingType]| {
        let entries: Vec<BindGroupLayoutEntry> = (0..)
            .zip(types)
            .map(|(binding, ty)| BindGroupLayoutEntry {
                binding,
                visibility: ShaderStages::COMPUTE,
                ty: *ty,
                count: None,
            })
            .collect();
        device.create_bind_group_layout(&BindGroupLayoutDescriptor {
            label: None,
            entries: &entries,
        })
    };
    [
        layout(&[
            buffer(BufferBindingType::Uniform, false),
            buffer(read, false),
            buffer(read, false),
            texture(TextureSampleType::Float { filterable: false }),
            BindingType::Sampler(SamplerBindingType::NonFiltering),
            texture(TextureSampleType::Uint),
            buffer(write, false),
        ]),
        layout(&[buffer(BufferBindingType::Uniform, true)]),
    ]
}
